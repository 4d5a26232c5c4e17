/* Overs of one channel against another's: kept, and by chance, where every place can be counted. */
#include "tests/test.h"

#include <math.h>

#include "tools/plan/census.h"
#include "tools/plan/coincide.h"

#define MOST  440
#define S     INT64_C(1000000)
#define SHIFT 20                /* s, from place to place: 6 to 96 of them, either way */

struct row {
	struct over o[MOST];
	int         n;
};

static void add(struct row *r, double from_s, double to_s, double slack_s)
{
	assert_true(r->n < MOST);
	r->o[r->n++] = (struct over){ .first_us = llround(1e6 * from_s), .last_us = llround(1e6 * to_s),
				      .before_us = llround(1e6 * slack_s), .after_us = llround(1e6 * slack_s) };
}

static struct overs of(const struct row *r)
{
	return (struct overs){ r->o, r->n };
}

/* Whether overs may have been on while one of the other was, near it, or both seen on. */
static void what_keeps(void **state)
{
	static const struct {
		const char *why;
		double      from_s, to_s, slack_s;      /* the other is on from 1000 to 1010 s, or 0.6 s more */
		bool        together, turns, at_once;
	} by[] = {
		{ "within", 1002, 1004, 0, true, false, true },
		{ "around", 990, 1020, 0, true, false, true },
		{ "in the same sweep: half of what is not known", 1010.6, 1012, 0.8, true, false, true },
		{ "as well before it", 990, 999.4, 0.8, true, false, true },
		{ "in the one before", 990, 999.2, 0.8, true, true, false },
		{ "in the next", 1010.8, 1012, 0.8, true, true, false },
		{ "half a second at most", 1010.9, 1012, 8, true, true, false },
		{ "which is in the same", 1010.7, 1012, 8, true, false, true },
		{ "maybe at once, in other sweeps", 1012, 1015, 2, true, true, false },
		{ "soon after", 1013, 1015, 0.1, false, true, false },
		{ "soon before", 990, 997, 0.1, false, true, false },
		{ "15.6 s after it", 1025.6, 1030, 0, false, true, false },
		{ "a little later", 1025.7, 1030, 0, false, false, false },
		{ "15.6 s before it", 980, 984.4, 0, false, true, false },
		{ "a little sooner", 980, 984.3, 0, false, false, false },
		{ "ends that nobody saw reach no further", 1013, 1015, -5, false, true, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct row a = { .n = 0 }, b = { .n = 0 };
		add(&b, 10, 20, 0);             /* before and after, far away */
		add(&b, 1000, 1010, 0.6);
		add(&b, 3000, 3010, 0);
		add(&a, by[i].from_s, by[i].to_s, by[i].slack_s);
		int together = coincide_kept(of(&a), of(&b), KEEP_TOGETHER), turns = coincide_kept(of(&a), of(&b), KEEP_TURNS),
		    at_once = coincide_kept(of(&a), of(&b), KEEP_AT_ONCE);
		if (together != by[i].together || turns != by[i].turns || at_once != by[i].at_once)
			fail_msg("%s: together %d, turns %d, at once %d", by[i].why, together, turns, at_once);
	}
}

/* The other is on 90 s of each 400 s for 10000 s: a look meets it in 4 or 5 of 20 places. */
static void regular(struct row *b)
{
	for (int i = 0; i < 25; i++)
		add(b, 400 * i, 400 * i + 90, 0);
}

/* Whether one look at t keeps to it: on, or for turns off and within 15 s. */
static bool keeps(double t, enum keeping how)
{
	double into = fmod(t, 400);

	return how == KEEP_TURNS ? into > 90 && (into <= 105 || into >= 385) : into <= 90;
}

/* One look at t: in how many of the places it keeps, by counting. */
static void count(double t, enum keeping how, int *places, int *true_ones)
{
	*places = *true_ones = 0;
	for (int s = 6; s <= 96; s++)
		for (int side = -1; side <= 1; side += 2) {
			double at = t + side * s * SHIFT;
			if (at < 0 || at > 24 * 400 + 90)
				continue;
			(*places)++;
			*true_ones += keeps(at, how);
		}
}

/* One exchange: its chance is the share of places in which it keeps, itself among them. */
static void one_exchange(void **state)
{
	static const double at[] = { 5005, 5333, 1, 410, 9600, 9689, 1192 };

	(void)state;
	for (size_t i = 0; i < 3 * sizeof at / sizeof at[0]; i++) {
		struct row a = { .n = 0 }, b = { .n = 0 };
		struct coincidence c;
		enum keeping how = (enum keeping)(i % 3);
		double t = at[i / 3];
		int places, kept;
		regular(&b);
		add(&a, t, t, 0);
		coincide(of(&a), of(&b), how, &c);
		count(t, how, &places, &kept);
		assert_true(c.overs == 1 && c.exchanges == 1 && c.kept == keeps(t, how));
		assert_true(fabs(c.expected - (double)kept / places) < 1e-9);
		/* That none or more keep is certain. */
		double chance = keeps(t, how) ? (kept + 1.0) / (places + 1) : 1;
		if (fabs(c.chance - chance) > 1e-9)
			fail_msg("at %g s, kept as %d: chance %g, not %g", t, how, c.chance, chance);
	}
}

/* Two exchanges, of which one or both keep: 1 - (1 - p)(1 - q), or p q. */
static void two_exchanges(void **state)
{
	static const struct { double first, second; int kept; } by[] = {
		{ 4005, 6010, 2 }, { 4005, 6200, 1 }, { 4200, 6200, 0 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct row a = { .n = 0 }, b = { .n = 0 };
		struct coincidence c;
		double p[2], at[2] = { by[i].first, by[i].second };
		regular(&b);
		for (int k = 0; k < 2; k++) {
			int places, kept;
			add(&a, at[k], at[k], 0);
			count(at[k], KEEP_TOGETHER, &places, &kept);
			p[k] = fmax(1, kept + keeps(at[k], KEEP_TOGETHER)) / (places + 1);
		}
		coincide(of(&a), of(&b), KEEP_TOGETHER, &c);
		double want = by[i].kept == 2 ? p[0] * p[1] : by[i].kept == 1 ? 1 - (1 - p[0]) * (1 - p[1]) : 1;
		assert_true(c.exchanges == 2 && c.kept == by[i].kept);
		if (fabs(c.chance - want) > 1e-9)
			fail_msg("%d kept: chance %g, not %g", by[i].kept, c.chance, want);
	}
}

/* Overs of one exchange are one witness: silences of a minute or less; most of them must keep. */
static void an_exchange_is_one_witness(void **state)
{
	static const struct { const char *why; double silent_s; int kept, exchanges; bool keeps; } by[] = {
		{ "three soon after each other, all kept", 10, 3, 1, true },
		{ "two of three", 45, 2, 1, true },
		{ "one of three", 59, 1, 1, false },
		{ "a minute and more: three exchanges", 61, 1, 3, true },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct row a = { .n = 0 }, b = { .n = 0 };
		struct coincidence c;
		regular(&b);
		double first = 4000 + 90 - (by[i].kept - 1) * by[i].silent_s - 1;
		for (int k = 0; k < 3; k++)
			add(&a, first + k * by[i].silent_s, first + k * by[i].silent_s, 0);
		coincide(of(&a), of(&b), KEEP_TOGETHER, &c);
		if (c.overs != 3 || c.kept != by[i].kept || c.exchanges != by[i].exchanges || (c.chance < 1) != by[i].keeps)
			fail_msg("%s: %d of %d kept in %d exchanges, chance %g", by[i].why, c.kept, c.overs, c.exchanges, c.chance);
	}
}

/* The first 400 exchanges are asked, and each may keep. */
static void as_many_as_are_asked(void **state)
{
	struct row a = { .n = 0 }, b = { .n = 0 };
	struct coincidence c;

	(void)state;
	for (int i = 0; i < 420; i++) {
		add(&a, 100 * i, 100 * i + 2, 0);
		add(&b, 100 * i, 100 * i + 2, 0);
	}
	coincide(of(&a), of(&b), KEEP_TOGETHER, &c);
	assert_true(c.exchanges == 400 && c.overs == 400 && c.kept == 400);
	/* Of places 20 s apart every fifth keeps, and those nearby do not count: 1 in 5, 400 times. */
	assert_true(c.chance > 0 && log(c.chance) < 400 * log(0.25) && log(c.chance) > 400 * log(0.19));
	assert_true(fabs(c.expected / 400 - 0.2) < 0.01);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_keeps),
		cmocka_unit_test(one_exchange),
		cmocka_unit_test(two_exchanges),
		cmocka_unit_test(an_exchange_is_one_witness),
		cmocka_unit_test(as_many_as_are_asked),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
