/* Second seats: what keeps one from a place where it would pay, one thing at a time. */
#include "tests/test.h"

#include <stdlib.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tools/plan/doubles.h"
#include "tools/plan/layout.h"

static const struct band bands[] = {
	{ "fire", "Fire", "fire", { FREQ_KHZ(154000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "own", "Own", "personal", { FREQ_KHZ(158000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "trade", "Trade", "business", { FREQ_KHZ(160000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
};

#define OTHERS 20               /* of either other bank */

/* A slow receiver of three banks: fire on two channels, one of them the priority, in bank 1, trade in
 * bank 2 and handhelds in bank 3; in a quiet night the other fire channel pays twice a round. */
static void set_up_scene(struct scene *s, struct repertoire *on)
{
	scene_begin(s, bands, 3);
	s->receiver.banks = 3;
	s->receiver.scan_rate = 8;
	for (int k = 0; k < 60; k++) {
		scene_add(s, (struct world_over){ 0, 3, 90 + 230 * k, 1.2, 300, 0, 9000, KIND_NFM, 0 });
		scene_add(s, (struct world_over){ 0, 30, 30 + 210 * k, 1.2, 300, 0, 9000, KIND_NFM, 0 });
	}
	for (int k = 0; k < 2 * OTHERS; k++)
		scene_talk(s, 1 + k % 2, 1 + k / 2, 2, 250, KIND_NFM);
	scene_propose(s);
	assert_int_equal(repertoire_create(on, s->census), 0);
}

static void without_doubles(struct plan *p)
{
	int n = 0;

	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].same_as.bank == 0)
			p->memory[n++] = p->memory[i];
	p->memories = n;
}

/* The fire channel that is not the priority. */
static struct memory *vital(struct plan *p)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].bank == 1 && !p->memory[i].priority && !p->memory[i].same_as.bank)
			return &p->memory[i];
	fail_msg("no fire but the priority");
	return NULL;
}

static int seats_in(const struct plan *p, int bank)
{
	int n = 0;

	for (int i = 0; i < p->memories; i++)
		n += p->memory[i].same_as.bank > 0 && p->memory[i].bank == bank;
	return n;
}

static void nothing(struct scene *s) { (void)s; }
static void is_locked(struct scene *s) { vital(s->plan)->locked = true; }
static void is_pinned(struct scene *s) { vital(s->plan)->fixed = true; }
static void is_silent(struct scene *s) { vital(s->plan)->kept = true; }
static void is_weak(struct scene *s) { vital(s->plan)->certainty = CERTAIN_WEAK; }
static void is_likely(struct scene *s) { vital(s->plan)->certainty = CERTAIN_LIKELY; }
static void is_police(struct scene *s) { strcpy(vital(s->plan)->service, "police"); }
static void is_ems(struct scene *s) { strcpy(vital(s->plan)->service, "ems"); }
static void is_priority_too(struct scene *s) { vital(s->plan)->priority = true; }
static void few_are_scanned(struct scene *s) { s->receiver.live_per_bank = OTHERS; }
static void one_more_is_scanned(struct scene *s) { s->receiver.live_per_bank = OTHERS + 1; }
static void none_are_empty(struct scene *s) { s->receiver.empty_per_bank = s->receiver.memories - OTHERS; }
static void one_is_empty(struct scene *s) { s->receiver.empty_per_bank = s->receiver.memories - OTHERS - 1; }

static void no_priority(struct scene *s)
{
	for (int i = 0; i < s->plan->memories; i++)
		s->plan->memory[i].priority = false;
}

static void never_together(struct scene *s)
{
	for (int i = 0; i < s->plan->sets; i++)
		if (s->plan->set[i].banks != 1)
			s->plan->set[i].banks &= ~UINT64_C(1);
}

static void one_of_each(struct scene *s, double hold_share, bool locked)
{
	for (int bank = 2; bank <= 3; bank++)
		for (int i = 0; i < s->plan->memories; i++)
			if (s->plan->memory[i].bank == bank) {
				s->plan->memory[i].locked = locked;
				s->census->channel[s->plan->memory[i].channel].hold_share = hold_share;
				break;
			}
}

static void chatty_ones(struct scene *s) { one_of_each(s, CHATTY_SHARE + 0.01, false); }
static void chatty_but_locked(struct scene *s) { one_of_each(s, CHATTY_SHARE + 0.01, true); }
static void less_chatty(struct scene *s) { one_of_each(s, CHATTY_SHARE, false); }

/* The last slot of either bank is taken. */
static void at_the_end(struct scene *s)
{
	for (int i = 0; i < s->plan->memories; i++)
		if (i + 1 == s->plan->memories || s->plan->memory[i + 1].bank != s->plan->memory[i].bank)
			s->plan->memory[i].slot = s->receiver.memories;
}

static const struct {
	const char *why;
	void      (*change)(struct scene *s);
	bool        any;
} rows[] = {
	{ "as it is", nothing, true },
	{ "it is locked", is_locked, false },
	{ "its slot is pinned", is_pinned, false },
	{ "nothing was heard on it", is_silent, false },
	{ "weak evidence", is_weak, false },
	{ "likely is enough", is_likely, true },
	{ "police can wait", is_police, false },
	{ "ambulances can't", is_ems, true },
	{ "it is a priority itself", is_priority_too, false },
	{ "the priority is still free", no_priority, false },
	{ "no set has both banks", never_together, false },
	{ "as many are scanned as may be", few_are_scanned, false },
	{ "one more may be", one_more_is_scanned, true },
	{ "the slots that are left stay empty", none_are_empty, false },
	{ "one more than these is left", one_is_empty, true },
	{ "the last slot is taken", at_the_end, false },
	{ "somebody chats there", chatty_ones, false },
	{ "but is locked", chatty_but_locked, true },
	{ "and not so much", less_chatty, true },
};

static void one_thing_at_a_time(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct scene s;
		struct repertoire on;
		set_up_scene(&s, &on);
		const struct matter m = { s.census, s.suspect, &s.receiver, &s.interests, NULL };
		without_doubles(s.plan);
		rows[i].change(&s);
		assert_int_equal(doubles_add(&m, &on, s.plan), 0);
		if ((seats_in(s.plan, 2) + seats_in(s.plan, 3) > 0) != rows[i].any)
			fail_msg("%s: %d second seats", rows[i].why, seats_in(s.plan, 2) + seats_in(s.plan, 3));
		assert_int_equal(seats_in(s.plan, 1), 0);
		repertoire_free(&on);
		scene_end(&s);
	}
}

/* What a second seat is: last in its bank, the same to hear, with nothing of the set's own line; once in a bank. */
static void what_a_second_seat_is(void **state)
{
	struct scene s;
	struct repertoire on;

	(void)state;
	set_up_scene(&s, &on);
	const struct matter m = { s.census, s.suspect, &s.receiver, &s.interests, NULL };
	without_doubles(s.plan);
	struct memory *first = vital(s.plan);
	first->line = 7;
	first->noted = NOTED_YES;
	const struct memory like = *first;
	for (int again = 0; again < 2; again++) {
		assert_int_equal(doubles_add(&m, &on, s.plan), 0);
		assert_true(seats_in(s.plan, 2) <= 1 && seats_in(s.plan, 3) <= 1);
	}
	int seats = 0;
	for (int i = 0; i < s.plan->memories; i++) {
		const struct memory *e = &s.plan->memory[i], *next = i + 1 < s.plan->memories ? e + 1 : NULL;
		assert_true(!next || next->bank > e->bank || (next->bank == e->bank && next->slot > e->slot));
		if (!e->same_as.bank)
			continue;
		seats++;
		assert_true(e->same_as.bank == like.bank && e->same_as.slot == like.slot);
		assert_true(e->channel == like.channel && e->landing.landed.thirds == like.landing.landed.thirds);
		assert_true(e->slot == OTHERS + 1 && (!next || next->bank > e->bank));
		assert_true(e->line == 0 && e->noted == NOTED_NOTHING && strstr(e->reason, "second seat of bank 1"));
	}
	assert_in_range(seats, 1, 2);
	/* The sets are counted anew. */
	for (int i = 0; i < s.plan->sets; i++) {
		int live = 0;
		for (int k = 0; k < s.plan->memories; k++)
			live += (int)(s.plan->set[i].banks >> (s.plan->memory[k].bank - 1) & 1);
		assert_int_equal(s.plan->set[i].scanned, live);
	}
	repertoire_free(&on);
	scene_end(&s);
}

/* A set in use keeps those it has, where it has them, and gets no more. */
static void in_a_set_in_use(void **state)
{
	static const struct {
		const char *why;
		int         bank, slot;         /* of a second seat in the set; 0: it has none */
		bool        locked, taken;      /* taken: the plan has another there already   */
		int         in;                 /* bank in which it has one then; 0: none      */
	} by[] = {
		{ "none there", 0, 0, false, false, 0 },
		{ "one in bank 2", 2, 33, false, false, 2 },
		{ "one in bank 3", 3, 30, false, false, 3 },
		{ "locked there", 2, 33, true, false, 0 },
		{ "its slot is another's", 2, 20, false, true, 0 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct scene s;
		struct repertoire on;
		struct fault why = { 0 };
		set_up_scene(&s, &on);
		without_doubles(s.plan);
		const struct memory first = *vital(s.plan);
		scene_type(&s, 1, first.slot, first.landing.landed);
		if (by[i].bank)
			scene_type(&s, by[i].bank, by[i].slot, first.landing.landed)->locked = by[i].locked;
		assert_int_equal(former_create(&s.typed, "typed", s.census, &s.receiver, &s.former, &why), 0);
		const struct matter m = { s.census, s.suspect, &s.receiver, &s.interests, &s.former };
		assert_int_equal(doubles_add(&m, &on, s.plan), 0);
		for (int bank = 2; bank <= 3; bank++)
			if (seats_in(s.plan, bank) != (by[i].in == bank))
				fail_msg("%s: %d in bank %d", by[i].why, seats_in(s.plan, bank), bank);
		for (int k = 0; k < s.plan->memories; k++)
			assert_true(!s.plan->memory[k].same_as.bank || s.plan->memory[k].slot == by[i].slot);
		repertoire_free(&on);
		scene_end(&s);
	}
}

/* A second seat that the set has in the first slot of bank 1, before all others. */
static void a_seat_before_all_others(void **state)
{
	struct scene s;
	struct repertoire on;
	struct fault why = { 0 };

	(void)state;
	set_up_scene(&s, &on);
	without_doubles(s.plan);
	struct memory *v = vital(s.plan), *prior = &s.plan->memory[v == s.plan->memory];
	assert_true(prior->priority);
	const struct memory moved = *v, stays = *prior;
	/* The priority alone in bank 1, the other one last in bank 2. */
	s.plan->memory[0] = stays;
	s.plan->memory[0].slot = 5;
	memmove(&s.plan->memory[1], &s.plan->memory[2], OTHERS * sizeof moved);
	s.plan->memory[OTHERS + 1] = moved;
	s.plan->memory[OTHERS + 1].bank = 2;
	s.plan->memory[OTHERS + 1].slot = 25;
	scene_type(&s, 1, 1, moved.landing.landed);
	scene_type(&s, 2, 25, moved.landing.landed);
	assert_int_equal(former_create(&s.typed, "typed", s.census, &s.receiver, &s.former, &why), 0);
	const struct matter m = { s.census, s.suspect, &s.receiver, &s.interests, &s.former };
	assert_int_equal(doubles_add(&m, &on, s.plan), 0);
	assert_int_equal(seats_in(s.plan, 1), 1);
	const struct memory *e = &s.plan->memory[0];
	assert_true(e->slot == 1 && e->same_as.bank == 2 && e->same_as.slot == 25 && s.plan->memory[1].slot == 5);
	repertoire_free(&on);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(one_thing_at_a_time),
		cmocka_unit_test(what_a_second_seat_is),
		cmocka_unit_test(in_a_set_in_use),
		cmocka_unit_test(a_seat_before_all_others),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
