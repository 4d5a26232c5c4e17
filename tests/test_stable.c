#include "tests/test.h"

#include "tests/plan_world.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Fingers remember: another night must not move what stays. */

static const char *const services[] = {
	"fire", "ems", "police", "rail", "air", "marine", "works", "amateur", "business", "personal",
};

#ifdef __SANITIZE_ADDRESS__     /* ten times slower */
#define TOWNS 50
#else
#define TOWNS 150
#endif

#define SERVICES ((int)(sizeof services / sizeof services[0]))

static uint32_t roll(uint64_t *state, uint32_t sides)
{
	*state ^= *state >> 12;
	*state ^= *state << 25;
	*state ^= *state >> 27;
	return (uint32_t)((*state * UINT64_C(2685821657736338717)) >> 33) % sides;
}

/* A band a service, and talk on some of its channels; the same for the same seed. */
static void random_talk(struct scene *s, uint64_t seed)
{
	struct band bands[SERVICES];
	uint64_t d = seed * UINT64_C(0x9e3779b97f4a7c15);

	for (int b = 0; b < SERVICES; b++) {
		bands[b] = world_band[WORLD_BUSINESS];
		bands[b].raster = (struct raster){ FREQ_KHZ(140000 + 3017 * b), FREQ_HZ(12500),
						   200 };
		snprintf(bands[b].service, sizeof bands[b].service, "%s", services[b]);
		snprintf(bands[b].id, sizeof bands[b].id, "%s", services[b]);
	}
	scene_begin(s, bands, SERVICES);
	for (int n = 5 + (int)roll(&d, 60); n > 0; n--) {
		int32_t band = (int32_t)roll(&d, SERVICES), channel = 4 * (int32_t)roll(&d, 48);
		int overs = 1 + (int)roll(&d, 40);
		double at_s = roll(&d, 3000);
		for (int o = 0; o < overs && at_s < 14000; o++) {
			double length_s = 1 + roll(&d, 8);
			scene_add(s, (struct world_over){ band, channel, at_s, length_s,
				100 + (int32_t)roll(&d, 300), 0, 9000, KIND_NFM, 0 });
			at_s += length_s + 1 + (roll(&d, 3) ? roll(&d, 5) : roll(&d, 300));
		}
	}
}

static const struct memory *same_in(const struct plan *p, const struct memory *m)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].frequency.thirds == m->frequency.thirds &&
		    !p->memory[i].same_as.bank == !m->same_as.bank &&
		    (!m->same_as.bank || p->memory[i].bank == m->bank))
			return &p->memory[i];
	return NULL;
}

static void one_more_quiet_night_moves_no_slot(void **state)
{
	int memories = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= TOWNS; seed++) {
		struct scene one, two;
		random_talk(&one, seed);
		scene_propose(&one);
		random_talk(&two, seed);
		scene_quiet_night(&two);
		scene_propose(&two);
		/* It was looked at twice as long, or nothing is shown. */
		assert_int_equal(two.census->looked[0].looks, 2 * one.census->looked[0].looks);
		if (one.plan->memories != two.plan->memories)
			fail_msg("seed %" PRIu64 ": %d memories became %d", seed, one.plan->memories,
				 two.plan->memories);
		for (int i = 0; i < one.plan->memories; i++) {
			const struct memory *m = &one.plan->memory[i], *then = same_in(two.plan, m);
			if (!then || then->bank != m->bank || then->slot != m->slot ||
			    then->locked != m->locked ||
			    then->landing.step.thirds != m->landing.step.thirds)
				fail_msg("seed %" PRIu64 ": bank %d slot %d went to bank %d slot %d", seed,
					 m->bank, m->slot, then ? then->bank : 0, then ? then->slot : 0);
		}
		memories += one.plan->memories;
		scene_end(&one);
		scene_end(&two);
	}
	assert_in_range(memories, 10 * TOWNS, 100 * TOWNS);
}

/* The changes that are not to keep; 0 is none. */
static int to_do(const struct plan *p)
{
	int n = 0;

	for (int i = 0; i < p->changes; i++)
		n += p->change[i].is != SLOT_KEEP;
	return n;
}

/* The set typed full by the plan, and the same night or one more quiet one: nothing to do. */
static void typed_in_nothing_is_to_be_done(void **state)
{
	int changes = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= TOWNS / 5; seed++)
		for (int nights = 1; nights <= 2; nights++) {
			struct scene one, two;
			random_talk(&one, seed);
			scene_propose(&one);
			random_talk(&two, seed);
			if (nights == 2)
				scene_quiet_night(&two);
			scene_type_plan(&two, one.plan);
			scene_propose(&two);
			changes += two.plan->changes;
			for (int i = 0; i < two.plan->changes; i++)
				if (two.plan->change[i].is != SLOT_KEEP)
					fail_msg("seed %" PRIu64 ", %d nights: bank %d slot %d: %s, %s", seed, nights,
						 two.plan->change[i].bank, two.plan->change[i].slot,
						 slot_step_name(two.plan->change[i].is), two.plan->change[i].reason);
			assert_int_equal(two.plan->changes, one.plan->memories);
			scene_end(&one);
			scene_end(&two);
		}
	assert_in_range(changes, 4 * TOWNS, 40 * TOWNS);
}

/* A set in use, and one channel more: it comes in, and whoever was there stays where he was, but for
 * second seats that are worth less now. */
static void one_more_channel_moves_nobody(void **state)
{
	int came = 0, seats = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= TOWNS / 5; seed++) {
		struct scene one, two;
		uint64_t d = seed;
		int32_t band = (int32_t)roll(&d, SERVICES);
		char broken[200];
		random_talk(&one, seed);
		scene_propose(&one);
		random_talk(&two, seed);
		for (int o = 0; o < 3; o++)
			scene_add(&two, (struct world_over){ band, 198, 500 + 600 * o, 4, 130, 0,
				9000, KIND_NFM, 0 });
		scene_type_plan(&two, one.plan);
		scene_propose(&two);
		const char *rule = plan_check(two.plan, &two.receiver, two.census, two.suspect, broken);
		if (rule)
			fail_msg("seed %" PRIu64 ": %s", seed, rule);
		for (int i = 0; i < one.plan->memories; i++) {
			const struct memory *m = &one.plan->memory[i], *then = same_in(two.plan, m);
			if (then ? then->bank != m->bank || then->slot != m->slot : !m->same_as.bank)
				fail_msg("seed %" PRIu64 ", a new channel of %s: bank %d slot %d went to bank %d slot %d", seed,
					 services[band], m->bank, m->slot, then ? then->bank : 0, then ? then->slot : 0);
		}
		int outside = 0;
		for (int i = 0; i < two.plan->changes; i++) {
			const struct slot_change *c = &two.plan->change[i];
			outside += c->is != SLOT_KEEP && c->bank != 1;
			seats += (c->is == SLOT_CLEAR || c->is == SLOT_REPLACE) && c->bank == 1;
		}
		/* The new one, and whom it may take priority from. */
		if (outside > 2)
			fail_msg("seed %" PRIu64 ", a new channel of %s: %d changes outside bank 1", seed, services[band],
				 outside);
		came += to_do(two.plan) > 0;
		scene_end(&one);
		scene_end(&two);
	}
	assert_in_range(came, TOWNS / 8, TOWNS / 5);
	/* Two second seats gave way in 50 towns, and two to five in each that moved without TOGETHER_MOVE. */
	assert_true(seats <= TOWNS / 15);
}

/* Somebody else's set: up to 400 memories, some on channels of the town, some pinned, some noted. */
static void random_set(struct scene *s, uint64_t seed)
{
	uint64_t d = seed * UINT64_C(0xd1342543de82ef95);
	int share = 1 + (int)roll(&d, 4), town = 1 + (int)roll(&d, 10);
	bool priority = false;

	for (int bank = 1; bank <= s->receiver.banks; bank++)
		for (int slot = 1; slot <= s->receiver.memories; slot++) {
			if ((int)roll(&d, 4) >= share)
				continue;
			bool here = (int)roll(&d, 10) < town;
			struct freq f = here ? (struct freq){ FREQ_KHZ(140000 + 3017 * roll(&d, SERVICES)).thirds +
							      4 * roll(&d, 48) * FREQ_HZ(12500).thirds } :
					FREQ_KHZ(30000 + 5 * roll(&d, 4000));
			struct typed *t = scene_type(s, bank, slot, f);
			t->locked = roll(&d, 5) == 0;
			t->pinned = roll(&d, 30) == 0;
			t->noted = roll(&d, 4) == 0 ? (enum noted)roll(&d, NOTED_COUNT) : NOTED_NOTHING;
			t->priority = !priority && roll(&d, 200) == 0;
			priority |= t->priority;
		}
}

/* Whatever was in it, what comes of it keeps the rules and the pinned slots; and typed in, it stays. */
static void any_set_settles(void **state)
{
	int pinned = 0, kept = 0, gone = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= TOWNS / 10; seed++) {
		struct scene one, two;
		char broken[200];
		random_talk(&one, seed);
		random_set(&one, seed);
		scene_propose(&one);
		const char *rule = plan_check(one.plan, &one.receiver, one.census, one.suspect, broken);
		if (rule)
			fail_msg("seed %" PRIu64 ": %s", seed, rule);
		for (int i = 0; i < one.plan->changes; i++) {
			const struct slot_change *c = &one.plan->change[i];
			const struct memory *was = former_at(&one.former, c->bank, c->slot);
			if (was && was->fixed && c->is != SLOT_KEEP)
				fail_msg("seed %" PRIu64 ": bank %d slot %d is pinned: %s", seed, c->bank, c->slot,
					 c->reason);
			pinned += was && was->fixed;
			kept += c->memory >= 0 && one.plan->memory[c->memory].kept;
			gone += c->is == SLOT_CLEAR;
		}
		random_talk(&two, seed);
		scene_type_plan(&two, one.plan);
		scene_propose(&two);
		for (int i = 0; i < two.plan->changes; i++)
			if (two.plan->change[i].is != SLOT_KEEP)
				fail_msg("seed %" PRIu64 ": bank %d slot %d: %s, %s", seed, two.plan->change[i].bank,
					 two.plan->change[i].slot, slot_step_name(two.plan->change[i].is),
					 two.plan->change[i].reason);
		assert_int_equal(two.plan->changes, one.plan->memories);
		scene_end(&one);
		scene_end(&two);
	}
	assert_true(pinned >= TOWNS / 4 && kept >= 2 * TOWNS && gone >= TOWNS / 10);
}

/* Families keep their order, and so do the memories in them. */
static void one_more_channel_reorders_nothing(void **state)
{
	int new = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= TOWNS; seed++) {
		struct scene one, two;
		uint64_t d = seed;
		int before = -1;
		int32_t band = (int32_t)roll(&d, SERVICES);
		random_talk(&one, seed);
		scene_propose(&one);
		random_talk(&two, seed);
		for (int o = 0; o < 3; o++)
			scene_add(&two, (struct world_over){ band, 198, 500 + 600 * o, 4, 130, 0,
				9000, KIND_NFM, 0 });
		scene_propose(&two);
		for (int i = 0; i < one.plan->memories; i++) {
			const struct memory *then = same_in(two.plan, &one.plan->memory[i]);
			if (!then)
				continue;       /* the new one took the last room */
			int place = then->bank * 1000 + then->slot;
			if (place < before)
				fail_msg("seed %" PRIu64 ", a new channel of %s: bank %d slot %d overtook", seed,
					 services[band], then->bank, then->slot);
			before = place;
		}
		new += two.plan->memories > one.plan->memories;
		scene_end(&one);
		scene_end(&two);
	}
	assert_in_range(new, 2 * TOWNS / 3, TOWNS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(one_more_quiet_night_moves_no_slot),
		cmocka_unit_test(one_more_channel_reorders_nothing),
		cmocka_unit_test(typed_in_nothing_is_to_be_done),
		cmocka_unit_test(one_more_channel_moves_nobody),
		cmocka_unit_test(any_set_settles),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
