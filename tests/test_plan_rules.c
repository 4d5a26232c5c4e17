#include "tests/test.h"

#include "tests/plan_world.h"
#include "tests/shelf_receiver.h"
#include "tools/plan/propose.h"

#include <inttypes.h>
#include <string.h>

/* Any night, any receiver. */

#ifdef __SANITIZE_ADDRESS__     /* ten times slower */
#define PLANS 200
#else
#define PLANS 800
#endif

struct dice {
	uint64_t state;
};

static uint32_t roll(struct dice *d, uint32_t sides)
{
	d->state ^= d->state >> 12;
	d->state ^= d->state << 25;
	d->state ^= d->state >> 27;
	return (uint32_t)((d->state * UINT64_C(2685821657736338717)) >> 33) % sides;
}

static struct receiver random_receiver(struct dice *d)
{
	static const int32_t sizes[] = { 5000, 6250, 10000, 12500, 25000, 50000 };
	struct receiver r = shelf_receiver();

	r.banks = 1 + (int)roll(d, 12);
	r.memories = 5 + (int)roll(d, 60);
	r.empty_per_bank = (int)roll(d, 5);
	r.live_per_bank = 1 + (int)roll(d, 30);
	r.search_ranges = (int)roll(d, 12);
	r.ranges_free = (int)roll(d, 3);
	r.scan_rate = 5 + roll(d, 50);
	r.delays = (int)roll(d, 3);
	r.priorities = (int)roll(d, 3);
	r.reaches = 1 + (int)roll(d, 2);
	r.landing_base = FREQ_HZ(roll(d, 2) * 1250);
	r.reach[0].low = FREQ_KHZ(100000 + roll(d, 30000));
	r.reach[0].high = FREQ_KHZ(153000 + roll(d, 300000));
	r.reach[1].low = FREQ_KHZ(453500 + roll(d, 1000));
	r.reach[1].high = FREQ_KHZ(455000 + roll(d, 440000));
	for (int i = 0; i < r.reaches; i++) {
		r.reach[i].modes = roll(d, 15) & ~1u;
		r.reach[i].steps = 0;
		for (size_t k = 0; k < sizeof sizes / sizeof sizes[0]; k++)
			if (roll(d, 2) || (k == 3 && r.reach[i].steps == 0))
				r.reach[i].step[r.reach[i].steps++] = FREQ_HZ(sizes[k]);
	}
	return r;
}

static void random_channel(struct scene *s, struct dice *d, int bands)
{
	int32_t band = (int32_t)roll(d, (uint32_t)bands);
	int32_t channel = (int32_t)roll(d, 200);
	enum kind kind = roll(d, 2) ? KIND_NFM : (enum kind)roll(d, KIND_COUNT);
	int32_t level = 60 + (int32_t)roll(d, 500), width = 200 + (int32_t)roll(d, 15000);

	if (roll(d, 8) == 0) {
		scene_add(s, (struct world_over){ band, channel, 0, 14390, level, 0, width, kind, 0 });
		return;
	}
	int overs = 1 + (int)roll(d, roll(d, 4) ? 12 : 200);
	double at = roll(d, 4000);
	for (int i = 0; i < overs && at < 14000; i++) {
		double length = 1 + roll(d, 8);
		scene_add(s, (struct world_over){ band, channel, at, length, level + (int32_t)roll(d, 30),
			(int32_t)roll(d, 3000) - 1500, width, roll(d, 5) ? kind : KIND_UNKNOWN,
			roll(d, 3) ? 0 : 1000 });
		at += length + 1 + (roll(d, 3) ? roll(d, 5) : roll(d, 300));
	}
}

static const char *const services[] = {
	"fire",	    "ems",     "police", "air",	      "business",
	"personal", "weather", "paging", "broadcast", "unheard-of"
};

static void random_scene(struct scene *s, struct dice *d)
{
	struct band bands[WORLD_BANDS + 1];

	memcpy(bands, world_band, sizeof world_band);
	bands[WORLD_BANDS] = (struct band){ .id = "cell",
					    .name = "Cellular",
					    .service = "police",
					    .mode = MODE_NFM,
					    .width_hz = 11000,
					    .raster = { FREQ_KHZ(823000), FREQ_HZ(12500), 300 } };
	for (int b = 0; b < WORLD_BANDS; b++)
		strcpy(bands[b].service, services[roll(d, sizeof services / sizeof services[0])]);
	scene_begin(s, bands, WORLD_BANDS + 1);
	s->receiver = random_receiver(d);
	for (int n = (int)roll(d, 60); n > 0; n--)
		random_channel(s, d, WORLD_BANDS + 1);
}

static void same_plan(const struct plan *a, const struct plan *b)
{
	assert_int_equal(a->memories, b->memories);
	assert_int_equal(a->searches, b->searches);
	for (int i = 0; i < a->memories; i++)
		assert_memory_equal(&a->memory[i], &b->memory[i], sizeof a->memory[i]);
	for (int i = 0; i < a->searches; i++)
		assert_memory_equal(&a->search[i], &b->search[i], sizeof a->search[i]);
	for (int i = 0; i < a->lefts; i++)
		assert_string_equal(a->left[i].reason, b->left[i].reason);
}

static void every_plan_obeys(void **state)
{
	long memories = 0, searches = 0, chances = 0, lefts = 0, locked = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= PLANS; seed++) {
		struct dice d = { seed * UINT64_C(0x9e3779b97f4a7c15) };
		struct scene s;
		char broken[200];
		random_scene(&s, &d);
		scene_propose(&s);
		const char *rule = plan_check(s.plan, &s.receiver, s.census, s.suspect, broken);
		if (rule)
			fail_msg("seed %" PRIu64 ": %s", seed, rule);
		struct plan *again = propose(s.census, s.suspect, &s.receiver, &s.interests);
		same_plan(s.plan, again);
		plan_destroy(again);
		memories += s.plan->memories;
		searches += s.plan->searches;
		lefts += s.plan->lefts;
		for (int i = 0; i < s.plan->memories; i++)
			locked += s.plan->memory[i].locked;
		for (int i = 0; i < s.plan->searches; i++)
			chances += s.plan->search[i].lights == 0;
		scene_end(&s);
	}
	/* The cases are not empty ones. */
	if (memories < 4 * PLANS || 2 * searches < PLANS || 6 * chances < PLANS ||
	    chances > searches - PLANS / 6 || lefts < 4 * PLANS || 6 * locked < PLANS)
		fail_msg("too little to see: %ld memories, %ld ranges, %ld of them on the chance, "
			 "%ld left out, %ld locked", memories, searches, chances, lefts, locked);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_plan_obeys),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
