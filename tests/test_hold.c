/* How much of its busiest hour a channel keeps a receiver, where rests hide most of it: tools/plan/hold.h, by hand. */
#include "tests/test.h"

#include <math.h>

#include "tools/plan/hold.h"

#define MOST 40
#define REVISIT_S 30.0

struct world {
	struct over    over[MOST];
	struct channel channel;
	struct looked  looked;
	struct census  census;
};

/* So many overs in each of two hours, each met by one look. */
static void begin(struct world *w, int first, int second)
{
	*w = (struct world){ .looked = { .revisit_s = REVISIT_S, .beat = { .every_s = 2, .rest_s = 100, .looks = 3 } } };
	w->channel.overs = first + second;
	assert_in_range(w->channel.overs, 0, MOST);
	for (int i = 0; i < w->channel.overs; i++)
		w->over[i] = (struct over){ .first_us = i < first ? i * INT64_C(60000000) : HOUR_US + i * INT64_C(60000000),
					    .looks = 1 };
	w->census = (struct census){ .looked = &w->looked, .bands = 1, .channel = &w->channel, .channels = 1,
				     .over = w->over, .overs = w->channel.overs };
}

/* Share of an hour: looks of it after the drawing towards the mean, times seconds a look, times how much longer. */
static double share(double looks, double longer)
{
	return looks * REVISIT_S * longer / 3600;
}

/* (10 + 2) / (1 + 2 * 1 / 10) = 10: one hour is its own mean. (12 + 2) / (1 + 2 * 2 / 16) = 11.2. */
static void hours_towards_their_mean(void **state)
{
	static const struct { int first, second; double looks; } by[] = {
		{ 10, 0, 10 }, { 12, 4, 11.2 }, { 4, 12, 11.2 }, { 8, 8, 8 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w;
		begin(&w, by[i].first, by[i].second);
		/* Of lengths nothing is guessed: one exchange, and the delay. */
		assert_true(fabs(hold_of(&w.census, &w.channel) - share(by[i].looks, 1 + 2.0 / 8)) < 1e-9);
	}
}

/* Overs an exchange, pauses between them and the delay, against the overs alone. */
static void longer_by_pauses_and_delay(void **state)
{
	static const struct { double over_s, gap_s, more, longer; } by[] = {
		{ 4, 3, 0.5, (8 + 3 + 2) / 8.0 },       /* two overs, a pause         */
		{ 4, 3, 0, (4 + 2) / 4.0 },
		{ 4, 20, 0.5, (8 + 8 + 2) / 8.0 },      /* a longer pause ends it     */
		{ 1, 2, 0.99, (20 + 19 * 2 + 2) / 20.0 },       /* twenty at most     */
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w;
		begin(&w, 10, 0);
		w.channel.traffic.guessed = (struct guessed){ .over_s = { .value = by[i].over_s },
							      .gap_s = { .value = by[i].gap_s }, .more = by[i].more };
		assert_true(fabs(hold_of(&w.census, &w.channel) - share(10, by[i].longer)) < 1e-9);
	}
}

/* An over that was watched counts its length, not the looks of a park that come twenty a second. */
static void watched_overs_count_their_length(void **state)
{
	static const struct { const char *why; double span_s, busy_s; int looks; double counts; } by[] = {
		{ "watched for most of it", 60, 40, 700, 2 },
		{ "met by sweeps, now and then", 60, 20, 3, 3 },
		{ "half of it", 60, 30, 3, 3 },
		{ "shorter than a sweep's look", 0.4, 0.3, 1, 1 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w;
		begin(&w, 1, 0);
		w.over[0].last_us = (int64_t)(1e6 * by[i].span_s);
		w.over[0].busy_us = (int64_t)(1e6 * by[i].busy_s);
		w.over[0].looks = by[i].looks;
		double got = hold_of(&w.census, &w.channel), want = share(by[i].counts, 1.25);
		if (fabs(got - want) > 1e-9)
			fail_msg("%s: %g, not %g", by[i].why, got, want);
	}
}

/* Where looks come often or nothing was met, what was seen of its exchanges tells; it is never less than that. */
static void seen_is_the_least(void **state)
{
	static const struct { const char *why; double revisit_s, rest_s; int overs; double seen, want; } by[] = {
		{ "no rests", REVISIT_S, 0, 10, 0.03, 0.03 },
		{ "looks come nearly as often as in a sweep", 5.9, 100, 10, 0.001, 0.001 },
		{ "three times as seldom", 6, 100, 10, 0.001, 10 * 6 * 1.25 / 3600 },
		{ "nothing met", REVISIT_S, 100, 0, 0.03, 0.03 },
		{ "more was seen", REVISIT_S, 100, 10, 0.2, 0.2 },
		{ "never more than all", 600, 100, 10, 0.2, 1 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w;
		begin(&w, by[i].overs, 0);
		w.looked.revisit_s = by[i].revisit_s;
		w.looked.beat.rest_s = by[i].rest_s;
		w.channel.hold_share = by[i].seen;
		double got = hold_of(&w.census, &w.channel);
		if (fabs(got - by[i].want) > 1e-9)
			fail_msg("%s: %g, not %g", by[i].why, got, by[i].want);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(hours_towards_their_mean),
		cmocka_unit_test(longer_by_pauses_and_delay),
		cmocka_unit_test(watched_overs_count_their_length),
		cmocka_unit_test(seen_is_the_least),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
