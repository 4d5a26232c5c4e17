#include "tests/test.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/dice.h"
#include "tools/plan/together.h"

#define SEED    20261126
#define LINES   9
#define SECONDS 20000.0
#define MOST    20000

static int by_on(const void *a, const void *b)
{
	const struct cue *x = a, *y = b;

	return (x->on_s > y->on_s) - (x->on_s < y->on_s);
}

/* Lines of any busyness between nearly none and half of the time. */
static void make_up(struct dice *d, struct script *s, struct candidate *c)
{
	s->cues = 0;
	for (int line = 0; line < LINES; line++) {
		double over_s = dice_between(d, 2, 10), busy = 0.5 * pow(dice_unit(d), 3);
		double gap_s = over_s / (busy + 1e-3), end = 0;
		c[line] = (struct candidate){ .line = line, .weight = 1 + floor(dice_between(d, 0, 9.99)),
			.delay_s = 2 };
		for (double t = dice_exponential(d, gap_s); t < SECONDS; t = end + dice_exponential(d, gap_s)) {
			end = t + dice_exponential(d, over_s);
			assert_true(s->cues < MOST);
			s->cue[s->cues++] = (struct cue){ t, end, line, false };
		}
	}
	qsort(s->cue, (size_t)s->cues, sizeof *s->cue, by_on);
}

/* All choices rehearsed. */
static double best_of_all(const struct tryout *t, const struct candidate *c)
{
	double best = 0;

	for (int bits = 1; bits < 1 << LINES; bits++) {
		bool in[LINES];
		for (int i = 0; i < LINES; i++)
			in[i] = bits >> i & 1;
		best = fmax(best, together_worth(t, c, LINES, in));
	}
	return best;
}

/* As good as trying everything, within 1 %, and nothing passes the bound. */
static void against_all_choices(void **state)
{
	struct script script = { calloc(MOST, sizeof *script.cue), 0, LINES, SECONDS };
	double least = 1;

	(void)state;
	assert_non_null(script.cue);
	for (int trial = 0; trial < 12; trial++) {
		struct dice d = dice_of(SEED, (uint64_t)trial);
		struct candidate c[LINES];
		const struct tryout t = { &script, 1, 0.04 };
		struct together got;
		bool in[LINES];
		make_up(&d, &script, c);
		assert_int_equal(together_choose(&t, c, LINES, 0, in, &got), 0);
		double best = best_of_all(&t, c);
		least = fmin(least, got.chosen / best);
		if (got.chosen < 0.99 * best || best > got.bound || got.chosen < got.all)
			fail_msg("trial %d, seed %d: all %.4f, chosen %.4f, best %.4f, bound %.4f", trial, SEED,
				 got.all, got.chosen, best, got.bound);
		assert_true(fabs(together_worth(&t, c, LINES, in) - got.chosen) < 1e-12);
	}
	print_message("least share of the best: %.4f\n", least);
	free(script.cue);
}

/* One that never ends is thrown out, unless it must stay; a small gain is not worth it. */
static void by_hand(void **state)
{
	struct cue cue[] = { { 0, 100, 0, false }, { 20, 24, 1, false }, { 60, 64, 1, true } };
	const struct script script = { cue, 3, 3, 100 };
	const struct tryout t = { &script, 1, 0.04 };
	struct candidate c[3] = { { .line = 0, .weight = 1 }, { .line = 1, .weight = 9 }, { .line = 2, .weight = 2 } };
	struct together got;
	bool in[3];

	(void)state;
	assert_int_equal(together_choose(&t, c, 3, 0.01, in, &got), 0);
	assert_true(!in[0] && in[1] && in[2]);
	/* Silent line 2 counts as heard; line 1 all but a look or two. */
	assert_true(got.chosen > 0.9 && got.chosen < 0.9167);
	/* Line 0's share while it is alone, 92 s of 100, is the rest of the bound. */
	assert_true(fabs(got.bound - (9 + 2 + 0.92) / 12) < 1e-9);
	c[0].must = true;
	assert_int_equal(together_choose(&t, c, 3, 0.01, in, &got), 0);
	assert_true(in[0]);
	c[0].must = false;
	assert_int_equal(together_choose(&t, c, 3, 0.9, in, &got), 0);
	assert_true(in[0]);
}

/* Who sits there already stays, and who is new joins, as long as less than TOGETHER_MOVE a change is lost by it.
 * Line 0 talks for 100 s; line 1 begins just before it, and costs it some 3 s; line 2 is silent, which counts as heard. */
static void those_who_sit_there(void **state)
{
	static const struct {
		const char *why;
		double      weight[2];          /* of lines 1 and 2; line 0 has 1            */
		bool        held[3], passed[3], in[3];
	} by[] = {
		{ "afresh: line 1 costs more than it is worth", { 0.025, 0.5 }, { 0 }, { 0 }, { true, false, true } },
		{ "it sits there and loses half a hundredth", { 0.025, 0.5 }, { true, true, true }, { 0 }, { true, true, true } },
		{ "it loses two hundredths", { 0.002, 0.05 }, { true, true, true }, { 0 }, { true, false, true } },
		{ "a new one joins for two hundredths", { 0.025, 0.025 }, { true, true, false }, { 0 }, { true, true, true } },
		{ "not for half a one", { 0.025, 0.005 }, { true, true, false }, { 0 }, { true, true, false } },
		{ "one that was passed over stays out for that, too", { 0.025, 0.005 }, { true, true, false },
		  { false, false, true }, { true, true, false } },
		{ "and comes in for much", { 0.025, 0.5 }, { true, true, false }, { false, false, true },
		  { true, false, true } },
	};
	struct cue cue[] = { { 19, 21, 1, false }, { 20, 120, 0, false } };
	const struct script script = { cue, 2, 3, 200 };
	const struct tryout t = { &script, 1, 0.04 };

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct candidate c[3] = { { .line = 0, .weight = 1, .delay_s = 2 },
					  { .line = 1, .weight = by[i].weight[0], .delay_s = 2 },
					  { .line = 2, .weight = by[i].weight[1], .delay_s = 2 } };
		struct together got;
		bool in[3];
		for (int k = 0; k < 3; k++) {
			c[k].held = by[i].held[k];
			c[k].passed = by[i].passed[k];
		}
		assert_int_equal(together_choose(&t, c, 3, 0, in, &got), 0);
		for (int k = 0; k < 3; k++)
			if (in[k] != by[i].in[k])
				fail_msg("%s: %d %d %d, worth %.4f", by[i].why, in[0], in[1], in[2], got.chosen);
		assert_true(fabs(together_worth(&t, c, 3, in) - got.chosen) < 1e-12);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(by_hand),
		cmocka_unit_test(those_who_sit_there),
		cmocka_unit_test(against_all_choices),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
