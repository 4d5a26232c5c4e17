/* What counts when one survey met nothing, was blind, knows lengths better, or when somebody is on for most of the time. */
#include "tests/test.h"

#include <math.h>

#include "tests/compare_world.h"

/* What is on for more than half of the time in either is held against the other by its share of the time. */
static void by_occupancy_where_on_for_most(void **state)
{
	static const struct {
		const char *why;
		double      before, after;
		enum change is;
	} cases[] = {
		{ "as much", 0.8, 0.8, CHANGE_NONE },
		{ "came on", 0, 0.8, CHANGE_NEW },
		{ "went off", 0.8, 0, CHANGE_GONE },
		{ "less", 0.9, 0.6, CHANGE_QUIETER },
		{ "far less than half", 0.8, 0.2, CHANGE_QUIETER },
		{ "more", 0.6, 0.9, CHANGE_BUSIER },
		{ "from far less than half", 0.2, 0.8, CHANGE_BUSIER },
	};
	enum { CASES = sizeof cases / sizeof cases[0] };
	struct survey_of a = compare_begin(0, 4, 1), b = compare_begin(0, 4, 1);
	struct comparison c;

	(void)state;
	compare_talk(&a, 0, 25, 0, 4, KIND_NFM, 0);     /* so that no channel has the same place in both */
	for (int i = 0; i < CASES; i++) {
		compare_stay(&a, 10 + 10 * i, 240, cases[i].before);
		compare_stay(&b, 10 + 10 * i, 240, cases[i].after);
	}
	struct census *first = compare_end(&a), *second = compare_end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	for (int i = 0; i < CASES; i++) {
		bool right = cases[i].is == CHANGE_NONE ? compare_all_said(&c, 10 + 10 * i) == 0 :
			compare_said(&c, 10 + 10 * i, cases[i].is) == 1 && compare_all_said(&c, 10 + 10 * i) == 1;
		if (!right)
			fail_msg("%s: not \"%s\" alone", cases[i].why, change_name(cases[i].is));
		for (int k = 0; k < c.n; k++) {
			const struct difference *d = &c.of[k];
			double times = cases[i].after / cases[i].before;
			if (d->centre.thirds != raster_centre(&world_band[WORLD_FIRE].raster, 10 + 10 * i).thirds)
				continue;
			assert_true(d->p == 0);
			/* All hours count: the intervals are the channels' own. */
			if (cases[i].before > 0 && cases[i].after > 0) {
				struct interval x = interval_occupancy(&channel_at(first, WORLD_FIRE, 10 + 10 * i)->looks);
				struct interval y = interval_occupancy(&channel_at(second, WORLD_FIRE, 10 + 10 * i)->looks);
				assert_true(fabs(d->times.low / (y.low / x.high) - 1) < 1e-6);
				assert_true(fabs(d->times.high / (y.high / x.low) - 1) < 1e-6);
			}
			if (cases[i].before > 0 && cases[i].after > 0)
				assert_true(d->times.low > 0.8 * times && d->times.low < times && d->times.high > times &&
					    d->times.high < 1.25 * times);
		}
	}
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

/* A carrier that is gone may still be on for 3.0 of as many looks as know as much as its looks do, which hang
 * together: -ln 0.05, the rule of three (Hanley and Lippman-Hand 1983, from memory). Few looks do not show it gone. */
static void a_carrier_that_is_gone_has_a_bound(void **state)
{
	static const struct {
		const char *why;
		int         every_s, hours;
		double      least, most;        /* where the bound of its share must lie */
		enum change is;
	} by[] = {
		{ "14400 looks, a second apart", 1, 4, 3.0 / 14400, 3.0 / 500, CHANGE_GONE },
		{ "240, a minute apart", 60, 4, 3.0 / 240, 3.0 / 9, CHANGE_GONE },
		{ "4, an hour apart", 3600, 4, 2.9 / 4, 3.1 / 4, CHANGE_GONE },
		{ "3, an hour apart", 3600, 3, 0.95, 1.05, CHANGE_OPEN },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++)
		for (int back = 0; back < 2; back++) {
			struct survey_of a = compare_begin(0, 4, 1), b = compare_begin(0, by[i].hours, by[i].every_s);
			struct comparison c;
			compare_stay(&a, 10, 240, 0.8);
			struct census *with = compare_end(&a), *without = compare_end(&b);
			struct interval on = interval_occupancy(&channel_at(with, WORLD_FIRE, 10)->looks);
			assert_int_equal(compare(back ? without : with, back ? with : without, &c), 0);
			assert_int_equal(c.n, 1);
			const struct difference *d = &c.of[0];
			/* The share that it may still have, or had, by what is told of the ratio. */
			double share = back ? on.low / d->times.low : d->times.high * on.low;
			if (share < by[i].least || share > by[i].most ||
			    (back ? isfinite(d->times.high) : d->times.low > 0) ||
			    d->is != (by[i].is == CHANGE_GONE && back ? CHANGE_NEW : by[i].is))
				fail_msg("%s, %s: %s, x %g to %g, on for %g at most", by[i].why, back ? "new" : "gone",
					 change_name(d->is), d->times.low, d->times.high, share);
			comparison_free(&c);
			census_destroy(with);
			census_destroy(without);
		}
}

/* Who met nothing is judged by how long the other's exchanges are: each look in 4 s meets those of 5 s as surely as
 * each second, though hardly any single moment. Twelve of none by chance: 1 in 4096. */
static void judged_by_the_others_length(void **state)
{
	struct survey_of a = compare_begin(0, 4, 1), b = compare_begin(0, 4, 4);
	struct comparison c;

	(void)state;
	compare_talk(&a, 10, 12, 0, 4, KIND_NFM, 0);
	compare_talk(&b, 20, 12, 0, 4, KIND_NFM, 0);
	struct census *first = compare_end(&a), *second = compare_end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	assert_int_equal(compare_said(&c, 10, CHANGE_GONE), 1);
	assert_int_equal(compare_said(&c, 20, CHANGE_NEW), 1);
	comparison_free(&c);
	assert_true(!c.of && c.n == 0);
	assert_int_equal(compare(second, first, &c), 0);
	assert_int_equal(compare_said(&c, 10, CHANGE_NEW), 1);
	assert_int_equal(compare_said(&c, 20, CHANGE_GONE), 1);
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

/* The hours in which each would have met an exchange are told by the one that knows its length better: looks each
 * second tell 4 to 5 s, and looks each 20 s would meet that in 4.5 of 20. */
static void the_better_known_length_counts(void **state)
{
	(void)state;
	for (int way = 0; way < 2; way++) {
		struct survey_of a = compare_begin(0, 4, way ? 20 : 1), b = compare_begin(0, 4, way ? 1 : 20);
		struct comparison c;
		compare_talk(&a, 10, 60, 0, 4, KIND_NFM, 0);
		compare_talk(&b, 10, 60, 0, 4, KIND_DATA, 0);
		struct census *first = compare_end(&a), *second = compare_end(&b);
		assert_int_equal(compare(first, second, &c), 0);
		assert_int_equal(compare_said(&c, 10, CHANGE_KIND), 1);
		for (int i = 0; i < c.n; i++)
			if (c.of[i].is == CHANGE_KIND)
				assert_true(fabs(c.of[i].side[!way].hours - 4 * 4.54 / 20) < 0.01);
		comparison_free(&c);
		census_destroy(first);
		census_destroy(second);
	}
}

/* The same of few exchanges, and where one side met none: then the other's length counts, however badly it is known.
 * Looks each second tell 4 to 5 s of one; those each 20 s no more than that it is shorter than 20 s, and 10 s are taken. */
static void whoever_met_it_knows_its_length(void **state)
{
	static const struct {
		const char *why;
		double      every_s[2];
		int         heard[2];
		int         sharp;              /* the side of which every second over's ends are known */
		double      length_s;
	} rows[] = {
		{ "the second met none", { 20, 1 }, { 6, 0 }, -1, 10 },
		{ "the first met none", { 1, 20 }, { 0, 6 }, -1, 10 },
		{ "the second met one, and knows it better", { 20, 1 }, { 60, 1 }, -1, 4.52 },
		{ "so does the first", { 1, 20 }, { 1, 60 }, -1, 4.52 },
		{ "as well as each other", { 1, 1 }, { 60, 60 }, -1, 4.52 },
		/* 0 to 8 s and 4 to 5 s: neither is it known by how long it is. */
		{ "the second by little", { 16, 1 }, { 60, 60 }, 0, 4.52 },
		{ "the first by little", { 1, 16 }, { 60, 60 }, 1, 4.52 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct census *of[2];
		struct comparison c;
		for (int k = 0; k < 2; k++) {
			struct survey_of s = compare_begin(0, 4, rows[i].every_s[k]);
			compare_talk(&s, 10, rows[i].heard[k], 0, 4, k ? KIND_DATA : KIND_NFM, 0);
			of[k] = compare_end(&s);
			for (int n = 0; n < of[k]->overs && rows[i].sharp == k; n += 2)
				of[k]->over[n].before_us = of[k]->over[n].after_us = -1;
		}
		assert_int_equal(compare(of[0], of[1], &c), 0);
		if (c.n == 0)
			fail_msg("%s: nothing is told", rows[i].why);
		for (int n = 0; n < c.n; n++)
			for (int k = 0; k < 2; k++) {
				/* Ends of overs say that looks are half as far apart; without any they are even. */
				double every_s = rows[i].every_s[k];
				double between_s = rows[i].heard[k] ? every_s / 2 : every_s - 0.02;
				double want = 4 * (fmin(between_s, rows[i].length_s) + 0.02) / every_s;
				if (!(fabs(c.of[n].side[k].hours - want) < 0.02))
					fail_msg("%s: side %d of %s has %.3f h, want %.3f", rows[i].why, k,
						 change_name(c.of[n].is), c.of[n].side[k].hours, want);
			}
		comparison_free(&c);
		census_destroy(of[0]);
		census_destroy(of[1]);
	}
}

/* What one could not judge in most of its looks may have been on all the while: then it shows no difference, either way. */
static void blind_looks_show_nothing(void **state)
{
	static const struct {
		const char *why;
		int         before, after;      /* exchanges                              */
		int         blind;              /* of the first's 3600 looks of each hour */
		enum change is;
	} by[] = {
		{ "nobody was blind", 6, 200, 0, CHANGE_BUSIER },
		{ "one look in seven", 6, 200, 500, CHANGE_BUSIER },
		{ "nine looks in ten", 6, 200, 3250, CHANGE_NONE },
		{ "the less is known, the other way round", 200, 6, 0, CHANGE_QUIETER },
		{ "what was judged was busy, and so may the rest have been", 200, 6, 2500, CHANGE_QUIETER },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct survey_of a = compare_begin(0, 4, 1), b = compare_begin(0, 4, 1);
		struct comparison c;
		compare_talk(&a, 10, by[i].before, 0, 4, KIND_NFM, 0);
		compare_talk(&b, 10, by[i].after, 0, 4, KIND_NFM, 0);
		for (int h = 0; h < 4 && by[i].blind > 0; h++) {
			struct activity_row blind = { .run = 1, .hour = NIGHT_US + h * HOUR_US, .band = WORLD_FIRE, .channel = 10,
						      .blind_looks = by[i].blind };
			assert_int_equal(tally_activity(a.tally, &blind), 0);
		}
		struct census *first = compare_end(&a), *second = compare_end(&b);
		assert_int_equal(compare(first, second, &c), 0);
		if (compare_all_said(&c, 10) != (by[i].is != CHANGE_NONE) || (by[i].is != CHANGE_NONE && !compare_said(&c, 10, by[i].is)))
			fail_msg("%s: %s", by[i].why, c.n ? change_name(c.of[0].is) : "nothing");
		comparison_free(&c);
		census_destroy(first);
		census_destroy(second);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(by_occupancy_where_on_for_most),
		cmocka_unit_test(a_carrier_that_is_gone_has_a_bound),
		cmocka_unit_test(judged_by_the_others_length),
		cmocka_unit_test(the_better_known_length_counts),
		cmocka_unit_test(whoever_met_it_knows_its_length),
		cmocka_unit_test(blind_looks_show_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
