/* What the sets of a plan give, worked by hand over two draws of a hundred seconds: what is kept of it and what is
 * played anew, and the priority that is chosen by it. Ten looks a second. */
#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "tools/plan/merit.h"
#include "tools/plan/priority.h"

enum { A, B, C, LAST = 8, CHANNELS, LINES };

/* Overs heard, and replies among those heard, of overs in so many exchanges: each counts one, each answer one more. */
static void a_line_is_worth(void **state)
{
	static const struct { const char *why; struct part part; double want; } rows[] = {
		{ "nothing was said", { 0 }, 1 },
		{ "two of four", { .overs = 4, .heard = 2, .exchanges = 4 }, 0.5 },
		{ "one exchange of three overs, the last two heard",
		  { .overs = 3, .heard = 2, .replied = 1, .exchanges = 1 }, 0.6 },
		{ "all of it", { .overs = 3, .heard = 3, .replied = 2, .exchanges = 1 }, 1 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		if (fabs(merit_line(&rows[i].part) - rows[i].want) > 1e-12)
			fail_msg("%s: %.4f", rows[i].why, merit_line(&rows[i].part));
}

/* A plan of one memory for each channel that has a weight, in a bank of its own; draws of them, and a third that is not
 * asked for. */
struct house {
	struct cue        cue[3][8];
	struct repertoire on;
	struct channel    channel[CHANNELS];
	struct suspect    suspect[CHANNELS];
	struct memory     memory[CHANNELS];
	struct census     census;
	struct receiver   receiver;
	struct plan       plan;
};

static void on_air(struct house *h, int draw, const struct cue *cue, int n)
{
	memcpy(h->cue[draw], cue, (size_t)n * sizeof *cue);
	h->on.draw[draw] = (struct script){ h->cue[draw], n, LINES, 100 };
}

static void house_open(struct house *h, const double weight[CHANNELS])
{
	*h = (struct house){ .on.draws = 3 };
	h->census = (struct census){ .channel = h->channel, .channels = CHANNELS };
	h->receiver = (struct receiver){ .scan_rate = 10, .priorities = 1, .priority_s = 2 };
	h->plan = (struct plan){ .memory = h->memory };
	for (int k = 0; k < CHANNELS; k++) {
		h->channel[k] = (struct channel){ .kind = KIND_NFM, .level_db = 30, .occupancy = 0.01 };
		if (weight[k] <= 0)
			continue;
		h->memory[h->plan.memories++] = (struct memory){ .bank = k + 1, .slot = 1, .channel = k, .weight = weight[k],
						.delay_us = 2000000, .frequency = FREQ_KHZ(154000 + 25 * k),
						.certainty = CERTAIN_SURE };
	}
}

static void house_sets(struct house *h, const uint64_t *banks, int n)
{
	h->plan.sets = n;
	for (int s = 0; s < n; s++)
		h->plan.set[s] = (struct bankset){ .name = "set", .banks = banks[s] };
}

static bool near(double got, double want)
{
	return fabs(got - want) < 1e-9;
}

/* A holds the receiver from 10 to 22 s, so that B's 12 to 15 s are missed beside it, and B's 40 to 46 s hide A's 41 to
 * 43 s; C's first is missed beside B. */
static void talk(struct house *h)
{
	static const struct cue first[] = { { 10, 20, A, false }, { 12, 15, B, false }, { 13, 14, C, false },
					    { 40, 44, B, false }, { 41, 43, A, false }, { 48, 50, C, false } };
	static const struct cue second[] = { { 10, 20, A, false }, { 12, 15, B, false }, { 30, 34, B, false } };
	static const struct cue third[] = { { 5, 95, C, false } };

	on_air(h, 0, first, 6);
	on_air(h, 1, second, 3);
	on_air(h, 2, third, 1);
}

static void sets_are_kept_until_changed(void **state)
{
	static const double weight[CHANNELS] = { 6, 2, 2 };
	static const uint64_t banks[] = { 1 << A | 1 << B, 1 << A, 1 << B | 1 << C };
	struct house h;
	struct merit v;
	double gain;

	(void)state;
	house_open(&h, weight);
	house_sets(&h, banks, 3);
	talk(&h);
	assert_int_equal(merit_create(&v, &h.plan, &h.census, &h.receiver, &h.on), 0);
	assert_int_equal(merit_gain(&v, &h.plan, 1 << A, 0, &gain), -1);        /* nothing was played before */
	/* A two of three, B two of four; A alone all; B all, C one of two. */
	assert_true(near(merit_kept(&v, &h.plan, 0), (6 * 2 / 3.0 + 2 * 0.5) / 8));
	assert_true(near(merit_line(&v.line[A]), 2 / 3.0) && near(merit_line(&v.line[B]), 0.5));
	assert_true(near(merit_kept(&v, &h.plan, 1), 1) && near(merit_kept(&v, &h.plan, 2), (2 * 1 + 2 * 0.5) / 4));
	/* Held for 30 s after its overs, A hears its second one, and B is missed but once. */
	h.memory[A].delay_us = 30000000;
	assert_true(near(merit_set(&v, &h.plan, 0), 6 / 8.0));
	assert_true(near(merit_kept(&v, &h.plan, 0), 5 / 8.0));
	assert_int_equal(merit_gain(&v, &h.plan, 1 << A, 0, &gain), 0);
	assert_true(near(gain, (1 / 8.0 + 0) / 2));             /* both sets with A, one of which has it alone */
	assert_int_equal(merit_gain(&v, &h.plan, 1 << B, 1 << A, &gain), 0);
	assert_true(near(gain, 0));
	assert_int_equal(merit_gain(&v, &h.plan, 1 << A | 1 << C, 0, &gain), 0);
	assert_true(near(gain, 0));                             /* no set has both */
	merit_changed(&v, 1 << A);
	assert_true(v.kept[0] < 0 && v.kept[1] < 0 && near(v.kept[2], 0.75));
	assert_true(near(merit_kept(&v, &h.plan, 0), 6 / 8.0) && near(merit_kept(&v, &h.plan, 1), 1));
	/* Held so long after B, C is missed. */
	h.memory[A].delay_us = 2000000;
	h.memory[B].delay_us = 30000000;
	assert_int_equal(merit_gain(&v, &h.plan, 1 << B, 1 << A, &gain), 0);
	assert_true(near(gain, 2 / 4.0 - 3 / 4.0));
	merit_free(&v);
	merit_free(&v);
}

/* With A looked at every 2 s, whichever banks are on, set 1 of A and C hears A in both draws and not in one alone, and
 * loses one of C's two; set 2 hears A, which it does not have, and loses two of B's four. That pays if B is wanted
 * little. */
static void a_priority_is_weighed(void **state)
{
	static const struct { const char *why; double b; bool pays; const char *words; } rows[] = {
		{ "half of B costs less than A is worth", 4, true,
		  "154.000 MHz, whichever banks are on, the best of 1 rehearsed: in set 100 % of it is heard "
		  "instead of 50, and the others lose 50.0 points" },
		{ "it costs more", 20, false,
		  "none pays; 154.000 MHz, the best of 1 rehearsed: in set 100 % of it would be heard instead of 50, "
		  "and the others lose 50.0 points" },
	};
	static const struct cue first[] = { { 9.5, 19, C, false }, { 10, 20, A, false }, { 12, 15, B, false },
					    { 20.5, 21.5, C, false }, { 40, 44, B, false } };
	static const struct cue second[] = { { 10, 20, A, false }, { 12, 15, B, false }, { 30, 34, B, false } };
	static const uint64_t banks[] = { 1 << A | 1 << C, 1 << B };

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct house h;
		const double weight[CHANNELS] = { 5, rows[i].b, 2 };
		const struct matter m = { .census = &h.census, .suspect = h.suspect, .receiver = &h.receiver };
		house_open(&h, weight);
		house_sets(&h, banks, 2);
		on_air(&h, 0, first, 5);
		on_air(&h, 1, second, 3);
		on_air(&h, 2, second, 3);
		h.channel[B].level_db = 8;      /* too weak to be chosen itself */
		assert_int_equal(priority_choose(&m, &h.on, &h.plan), 0);
		if (h.memory[A].priority != rows[i].pays || h.memory[B].priority || h.memory[C].priority ||
		    strcmp(h.plan.priority, rows[i].words) != 0)
			fail_msg("%s: %s", rows[i].why, h.plan.priority);
	}
}

/* The priority, where the first draw has two cues and the others one. */
static void choose(struct house *h, const struct cue first[2], const struct cue second[1])
{
	const struct matter m = { .census = &h->census, .suspect = h->suspect, .receiver = &h->receiver };

	on_air(h, 0, first, 2);
	on_air(h, 1, second, 1);
	on_air(h, 2, second, 1);
	assert_int_equal(priority_choose(&m, &h->on, &h->plan), 0);
}

/* B, wanted most of all, says nothing in these draws. Where it is not among the banks that are on nothing of it is missed
 * either, so it gains nothing, and A is the priority. */
static void who_says_nothing_gains_nothing(void **state)
{
	static const double weight[CHANNELS] = { 5, 50, 2 };
	static const struct cue first[] = { { 9.5, 19, C, false }, { 10, 20, A, false } };
	static const struct cue second[] = { { 10, 20, A, false } };
	static const uint64_t banks[] = { 1 << A | 1 << C, 1 << B };
	struct house h;

	(void)state;
	house_open(&h, weight);
	house_sets(&h, banks, 2);
	choose(&h, first, second);
	if (!h.memory[A].priority ||
	    !strstr(h.plan.priority, "the best of 2 rehearsed: in set 100 % of it is heard instead of 50,"))
		fail_msg("%s", h.plan.priority);
}

/* Five are tried: those of which most is missed, by weight. Five that are wanted far more say nothing. */
static void those_that_may_gain_are_tried(void **state)
{
	static const double weight[CHANNELS] = { 0, 0, 2, 50, 50, 50, 50, 50, 5 };
	static const struct cue first[] = { { 9.5, 19, C, false }, { 10, 20, LAST, false } };
	static const struct cue second[] = { { 10, 20, LAST, false } };
	static const uint64_t banks[] = { (1 << CHANNELS) - 1 };
	struct house h;

	(void)state;
	house_open(&h, weight);
	house_sets(&h, banks, 1);
	choose(&h, first, second);
	if (!strstr(h.plan.priority, "154.200 MHz, whichever banks are on, the best of 5 rehearsed: in set 100 % of it is heard "
		    "instead of 50,"))
		fail_msg("%s", h.plan.priority);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_line_is_worth),
		cmocka_unit_test(sets_are_kept_until_changed),
		cmocka_unit_test(a_priority_is_weighed),
		cmocka_unit_test(who_says_nothing_gains_nothing),
		cmocka_unit_test(those_that_may_gain_are_tried),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
