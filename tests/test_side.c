/* What one of two surveys tells of a channel, by hand: tools/plan/side.h. */
#include "tests/test.h"

#include <math.h>

#include "tools/plan/side.h"

#define MOST    16
#define S       INT64_C(1000000)
#define QUARTER (900 * S)
#define LOOK_S  2.0             /* from look to look: what a single one stands for */

/* A Thursday from midnight on: hour 72 of the week is the first. */
struct world {
	struct over      over[MOST];
	struct channel   channel;
	struct exposure  exposure[WEEK_HOURS];
	struct account   account[WEEK_HOURS];
	struct census    census;
	bool             counts[WEEK_HOURS];
	struct side_view view;
};

static void begin(struct world *w, int hours)
{
	*w = (struct world){ .census = { .channel = &w->channel, .channels = 1, .over = w->over, .exposure = w->exposure,
					 .account = w->account, .end_us = hours * HOUR_US } };
	for (int h = 0; h < hours; h++) {
		w->counts[72 + h] = true;
		w->exposure[w->census.exposures++] =
			(struct exposure){ .first = 0, .count = 1, .hour = 72 + h, .looks = 1800, .looked_s = 36,
					   .pairs = 1799, .wall_s = 3600 };
		w->account[w->census.accounts++] =
			(struct account){ .hour = 72 + h, .busy = 40, .evidence = 50, .openings = 30, .blind = 100 };
	}
	w->view = (struct side_view){ .census = &w->census, .counts = w->counts, .of_week = true, .between_s = LOOK_S };
}

static void add(struct world *w, int64_t at_us, double length_s, double slack_s)
{
	assert_true(w->channel.overs < MOST);
	w->over[w->channel.overs++] = (struct over){ .first_us = at_us, .last_us = at_us + llround(1e6 * length_s),
						     .before_us = llround(1e6 * slack_s),
						     .after_us = llround(1e6 * slack_s), .looks = 1 };
	w->census.overs = w->channel.overs;
}

static struct side measured(const struct world *w)
{
	struct side s;

	side_measure(&w->view, 0, 0, 0, &s);
	return s;
}

/* Two exchanges of one look, w each, in each of four quarters of an hour: by themselves 8 x 8 w^2 / (8 w)^2 = 1.
 * Stretches that follow each other differ by half the squares: a quarter between two without any by
 * (2 w)^2 / 2 twice. */
static void bunches_are_uneven(void **state)
{
	static const struct {
		const char *why;
		int         quarter[4], hours;
		double      uneven;
	} by[] = {
		{ "quarters without any between them: 8 x 2 w^2", { 1, 3, 5, 7 }, 3, 2 },
		{ "hours that differ: (4 w)^2 / 2 and (2 w)^2 / 2", { 1, 2, 3, 4 }, 3, 1.25 },
		{ "hours without any between them: 4 x (4 w)^2 / 2", { 4, 5, 12, 13 }, 5, 4 },
		{ "nobody looked before and after", { 0, 3, 4, 7 }, 2, 1 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w;
		begin(&w, by[i].hours);
		for (int q = 0; q < 4; q++)
			for (int k = 0; k < 2; k++)
				add(&w, by[i].quarter[q] * QUARTER + (100 + 300 * k) * S, 0, 0.5);
		struct side s = measured(&w);
		assert_true(s.overs == 8 && s.exchanges == 8 && s.clusters == 8);
		if (fabs(s.uneven - by[i].uneven) > 1e-9)
			fail_msg("%s: %g", by[i].why, s.uneven);
	}
}

/* Silences of 8 s part exchanges for sure when they do so as far as the ends are known; clusters by what was seen. */
static void exchanges_and_their_length(void **state)
{
	static const struct {
		double silent_s, slack_s;
		int    exchanges;
		double clusters, low_s, high_s;
	} by[] = {
		{ 2, 0.5, 1, 1, 8, 9 },                 /* 3 + 2 + 3, and half a second at either end */
		{ 7.9, 0, 1, 1, 13.9, 13.9 },
		{ 8, 0, 2, 2, 3, 3 },
		{ 8.5, 0.5, 1, 2, 14.5, 15.5 },         /* 1 s of it is not known */
		{ 9, 0.5, 2, 2, 3, 4 },
		{ 60, -1, 2, 2, 3, 3 },                 /* ends that nobody saw add nothing */
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w;
		begin(&w, 2);
		add(&w, 1000 * S, 3, by[i].slack_s);
		add(&w, 1003 * S + llround(1e6 * by[i].silent_s), 3, by[i].slack_s);
		struct side s = measured(&w);
		if (s.exchanges != by[i].exchanges || s.clusters != by[i].clusters ||
		    fabs(s.length_s.low - by[i].low_s) > 1e-9 || fabs(s.length_s.high - by[i].high_s) > 1e-9)
			fail_msg("%g s silent: %d exchanges, %g clusters, %g to %g s", by[i].silent_s, s.exchanges, s.clusters,
				 s.length_s.low, s.length_s.high);
	}
}

/* Looks of the hours that count, less those that could not judge; no more of them are busy. */
static void looks_of_the_hours_that_count(void **state)
{
	struct world w;

	(void)state;
	begin(&w, 3);
	add(&w, 100 * S, 3, 0.5);
	add(&w, HOUR_US + 100 * S, 3, 0.5);
	w.counts[72] = false;
	struct side s = measured(&w);
	assert_true(s.overs == 1 && s.exchanges == 1);
	assert_true(s.looks == 2 * 1700 && s.busy == 80 && s.evidence == 100 && s.openings == 60 && s.blind == 200);
	w.account[1].blind = 1790;
	w.account[2].blind = 1790;
	s = measured(&w);
	assert_true(s.looks == 20 && s.busy == 20 && s.evidence == 20);
	/* No more exchanges than looks that began one. */
	w.account[1].openings = w.account[2].openings = 0;
	assert_int_equal(measured(&w).exchanges, 1);
	w.account[1].busy = w.account[2].busy = 0;
	assert_int_equal(measured(&w).exchanges, 0);
	/* Of the day: the same hour of any. */
	begin(&w, 3);
	add(&w, HOUR_US + 100 * S, 3, 0.5);
	w.view.of_week = false;
	for (int h = 0; h < WEEK_HOURS; h++)
		w.counts[h] = h == 1;
	assert_true(measured(&w).overs == 1 && measured(&w).looks == 1700);
	/* Nobody heard it: the looks are told all the same. */
	side_measure(&w.view, 0, 0, -1, &s);
	assert_true(s.channel == -1 && s.overs == 0 && s.looks == 1700);
	side_measure(&w.view, 0, 1, -1, &s);
	assert_true(s.looks == 0);
}

/* Whatever order they come in; the first that is not before it is found, or the end. */
static void accounts_in_order(void **state)
{
	static const struct account order[] = { { .band = 0, .channel = 2, .hour = 5 }, { .band = 0, .channel = 2, .hour = 7 },
						{ .band = 0, .channel = 9, .hour = 1 }, { .band = 1, .channel = 1, .hour = 3 },
						{ .band = 2, .channel = 0, .hour = 0 } };
	enum { N = sizeof order / sizeof order[0] };

	(void)state;
	for (int turn = 0; turn < N; turn++) {
		struct account a[N];
		for (int i = 0; i < N; i++)
			a[i] = order[turn % 2 ? (turn + N - i) % N : (i + turn) % N];
		accounts_sort(a, N);
		for (int i = 0; i < N; i++)
			assert_true(a[i].band == order[i].band && a[i].channel == order[i].channel &&
				    (turn == 0 || a[i].hour == order[i].hour));
	}
	assert_int_equal(accounts_find(order, N, 0, 2), 0);
	assert_int_equal(accounts_find(order, N, 0, 3), 2);
	assert_int_equal(accounts_find(order, N, 0, 9), 2);
	assert_int_equal(accounts_find(order, N, 1, 0), 3);
	assert_int_equal(accounts_find(order, N, 1, 1), 3);
	assert_int_equal(accounts_find(order, N, 2, 1), N);
	assert_int_equal(accounts_find(order, 0, 0, 0), 0);
}

static int32_t two_hours_ahead(int64_t us) { (void)us; return 7200; }

/* Hours are the place's. */
static void hours_of_the_place(void **state)
{
	struct world w;

	(void)state;
	begin(&w, 3);
	add(&w, 100 * S, 3, 0.5);
	w.census.ahead_s = two_hours_ahead;
	assert_true(census_local_us(&w.census, 5) == 7200 * S + 5);
	w.counts[72] = false;
	assert_int_equal(measured(&w).overs, 1);
	w.counts[74] = false;
	assert_int_equal(measured(&w).overs, 0);
	w.census.ahead_s = NULL;
	assert_true(census_local_us(&w.census, 5) == 5);
}

/* A quarter of the edges that sweeps saw lie no farther away; those of parks tell nothing. */
static void between_looks(void **state)
{
	struct world w;

	(void)state;
	begin(&w, 2);
	assert_true(isinf(side_between_s(&w.census)));
	for (int i = 0; i < 8; i++)
		add(&w, (100 + 50 * i) * S, 3, i < 4 ? 2 : 30);
	add(&w, 1000 * S, 3, 0.01);
	add(&w, 1100 * S, 3, -1);
	assert_true(fabs(side_between_s(&w.census) - 2) < 1e-9);
	for (int i = 0; i < 4; i++)
		w.over[i].before_us = w.over[i].after_us = 30 * S;
	assert_true(fabs(side_between_s(&w.census) - 30) < 1e-9);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(bunches_are_uneven),
		cmocka_unit_test(exchanges_and_their_length),
		cmocka_unit_test(looks_of_the_hours_that_count),
		cmocka_unit_test(between_looks),
		cmocka_unit_test(hours_of_the_place),
		cmocka_unit_test(accounts_in_order),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
