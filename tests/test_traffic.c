/* What is told of a channel's use, against the talk it was made from: seen by looks that come
 * by every few seconds, by parks, or both, and followed by the daemon's own track. */
#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/traffic_world.h"
#include "tools/plan/glimpses.h"

#define SEED  UINT64_C(20261127)
#define HOURS 5
#define EXCHANGE_EVERY_S 240
#define WATCHED_LEAST 20        /* overs seen to begin or end, of a channel parked on */

/* ---- lengths and gaps ---- */

/* Of one figure over many channels: how far off it is, and how often its interval holds. */
struct score {
	int    asked, said, held;
	double off, off_squared, width;         /* of logarithms */
};

static void judge_figure(struct score *s, const struct estimate *e, double truth)
{
	s->asked++;
	if (e->value <= 0)
		return;
	double off = log(e->value / truth);
	s->said++;
	s->held += e->likely.low <= truth && truth <= e->likely.high;
	s->off += off;
	s->off_squared += off * off;
	s->width += log(e->likely.high / e->likely.low);
}

static void add(struct score *to, const struct score *s)
{
	to->asked += s->asked, to->said += s->said, to->held += s->held;
	to->off += s->off, to->off_squared += s->off_squared, to->width += s->width;
}

static void print_score(const char *what, const struct score *s)
{
	double n = s->said ? s->said : 1;

	print_message("  %s said %3d of %3d, off %+5.1f %% (each %4.1f %%), held %5.1f %%, x/ %.2f", what,
		      s->said, s->asked, 100 * (exp(s->off / n) - 1), 100 * sqrt(s->off_squared / n),
		      100.0 * s->held / n, exp(s->width / n / 2));
}

static void play(const struct talker *t, const struct watcher *w, int tries, struct noise *r,
		 struct score *over, struct score *gap)
{
	for (int k = 0; k < tries; k++) {
		struct spoken s;
		struct watcher at = *w;
		struct traffic found;
		int n;
		talker_speak(t, HOURS, r, &s);
		at.phase_s = w->revisit_s * noise_uniform(r);
		struct over *o = watcher_see(&at, &s, HOURS, 100, r, &n, NULL);
		const struct watched seen = { 0.1, 3600 * HOURS, w->revisit_s, 0 };
		assert_int_equal(traffic_measure(o, n, &seen, &found), 0);
		assert_true(w->parked <= 0 || found.watched >= WATCHED_LEAST);
		judge_figure(over, &found.over_s, talker_over_s(t));
		judge_figure(gap, &found.gap_s, talker_gap_s(t));
		free(o);
		spoken_free(&s);
	}
}

/* Rows of the default test; BANDCENSUS_TABLES=N plays all combinations N times. */
static const struct {
	double over_s, gap_s, revisit_s, parked;
} rows[] = {
	{ 3, 1, 1, 0 }, { 4, 2, 2.5, 0 }, { 15, 2, 2.5, 0 }, { 8, 5, 4, 0 }, { 4, 1, 8, 0 },
	{ 4, 2, 2.5, 0.25 }, { 2, 1, 2.5, 0.5 }, { 8, 2, 4, 0.5 }, { 4, 5, 4, 0.5 },
	{ 8, 5, 8, 0.25 }, { 15, 5, 8, 0.5 }, { 4, 1, 8, 0.5 },
};

#define ROWS ((int)(sizeof rows / sizeof rows[0]))
#define TRIES 12
#define PARKED_TRIES 40

/* Four deviations around 95 %, and what honest intervals over wrong laws may lack. */
static void check_held(const char *what, const struct score *s)
{
	double mean = 0.95 * s->said, deviation = sqrt(s->said * 0.95 * 0.05);

	if (s->held < mean - 4 * deviation)
		fail_msg("seed %llu: %s: %d of %d intervals hold the truth", (unsigned long long)SEED, what,
			 s->held, s->said);
}

/* Where parked, the mean of the tries is within 10 % of the truth, two standard errors
 * granted, as long as looks come no rarer than three times an over's length. */
static void check_parked(const char *what, const struct talker *t, const struct watcher *w,
			 const struct score *s)
{
	double mean = s->off / s->said, spread = sqrt(fmax(s->off_squared / s->said - mean * mean, 0));

	if (w->parked <= 0 || w->revisit_s > 3 * t->over_s)
		return;
	if (s->said < 0.95 * s->asked || fabs(mean) > log(1.1) + 2 * spread / sqrt(s->said))
		fail_msg("over %g gap %g looked each %g s parked %.0f %%: %s are off by %+.1f %% on average",
			 t->over_s, t->gap_s, w->revisit_s, 100 * w->parked, what, 100 * (exp(mean) - 1));
}

static void lengths_and_gaps(void **state)
{
	struct score swept[2] = { 0 }, parked[2] = { 0 };
	struct noise r = { SEED };

	(void)state;
	for (int i = 0; i < ROWS; i++) {
		struct score over = { 0 }, gap = { 0 };
		struct talker t = { rows[i].over_s, rows[i].gap_s, LENGTHS_LOGNORMAL, 4,
				    EXCHANGE_EVERY_S, 0, 0 };
		struct watcher w = { .revisit_s = rows[i].revisit_s, .parked = rows[i].parked };
		play(&t, &w, w.parked > 0 ? PARKED_TRIES : TRIES, &r, &over, &gap);
		print_message("over %4.1f gap %3.1f looked each %3.1f parked %2.0f %%:", t.over_s, t.gap_s,
			      w.revisit_s, 100 * w.parked);
		print_score("over", &over);
		print_score("gap", &gap);
		print_message("\n");
		check_parked("overs", &t, &w, &over);
		check_parked("gaps", &t, &w, &gap);
		add(w.parked > 0 ? &parked[0] : &swept[0], &over);
		add(w.parked > 0 ? &parked[1] : &swept[1], &gap);
	}
	check_held("overs, swept", &swept[0]);
	check_held("gaps, swept", &swept[1]);
	check_held("overs, parked", &parked[0]);
	check_held("gaps, parked", &parked[1]);
	/* Nothing is not an answer: swept at most twice as slow as an over lasts, all is said. */
	assert_true(swept[0].said > 0.8 * swept[0].asked);
}

static void whole_table(void **state)
{
	static const double over_s[] = { 2, 4, 8, 15 }, gap_s[] = { 1, 2, 5 };
	static const double revisit_s[] = { 1, 2.5, 4, 8 }, parked[] = { 0, 0.25, 0.5 };
	static const char *const laws[] = { "exponential", "log-normal" };
	const char *more = getenv("BANDCENSUS_TABLES");
	struct score all[3][2] = { 0 };
	struct noise r = { SEED + 1 };

	(void)state;
	if (!more)
		skip();
	for (int i = 0; i < 2 * 3 * 4 * 3 * 4; i++) {
		int law = i / 144, p = i / 48 % 3, o = i / 12 % 4, g = i / 4 % 3, q = i % 4;
		struct score over = { 0 }, gap = { 0 };
		struct talker t = { over_s[o], gap_s[g], (enum lengths)law, 4, EXCHANGE_EVERY_S, 0, 0 };
		struct watcher w = { .revisit_s = revisit_s[q], .parked = parked[p] };
		play(&t, &w, atoi(more), &r, &over, &gap);
		print_message("%s over %4.1f gap %3.1f looked each %3.1f parked %2.0f %%:", laws[law],
			      t.over_s, t.gap_s, w.revisit_s, 100 * w.parked);
		print_score("over", &over);
		print_score("gap", &gap);
		print_message("\n");
		check_parked("overs", &t, &w, &over);
		check_parked("gaps", &t, &w, &gap);
		add(&all[p][0], &over);
		add(&all[p][1], &gap);
	}
	for (int p = 0; p < 3; p++) {
		print_message("parked %2.0f %%:", 100 * parked[p]);
		print_score("over", &all[p][0]);
		print_score("gap", &all[p][1]);
		print_message("\n");
		for (int f = 0; f < 2; f++)
			assert_in_range(1000 * all[p][f].held / all[p][f].said, 930, 975);
	}
}

/* An over that nobody saw end tells that it was as long, not that it was no longer. */
static void cut_overs_are_not_short(void **state)
{
	struct over o[24] = { 0 };
	struct watched w = { 0.1, 3600, 2.5, 0 };
	struct traffic t;

	(void)state;
	for (int i = 0; i < 24; i++)
		o[i] = (struct over){ .first_us = INT64_C(60000000) * i,
				      .last_us = INT64_C(60000000) * i + 10000000, .before_us = 1000,
				      .after_us = i % 2 ? 1000 : -1, .busy_us = 10000000, .looks = 500 };
	assert_int_equal(traffic_measure(o, 24, &w, &t), 0);
	print_message("12 overs of 10 s and 12 of 10 s and more: %.1f s (%.1f-%.1f)\n", t.over_s.value,
		      t.over_s.likely.low, t.over_s.likely.high);
	/* Exponential overs would have 240 s for 12 ends; of four phases few go on for long. */
	assert_true(t.over_s.value > 12 && t.over_s.value < 22);
}

/* Overs of one look and of two in turn: each way of being seen is kept once, counts as often as it
 * was seen, and is as likely as when it is told that often. */
static void chains_alike_count_as_often(void **state)
{
	static const struct renewal r = { 2, 4, 2, 0.7, 300, 0.5 };
	struct over o[24] = { 0 };
	struct glimpses seen;
	struct glimpse told[24 * 24];
	int chains = 0, overs = 0, n = 0;

	(void)state;
	for (int i = 0; i < 24; i++)
		o[i] = (struct over){ .first_us = INT64_C(60000000) * i, .before_us = 2000000, .after_us = 2000000,
				      .last_us = INT64_C(60000000) * i + 20000 + i % 2 * 2000000,
				      .busy_us = 20000 * (1 + i % 2), .looks = 1 + i % 2 };
	assert_int_equal(glimpses_make(o, 24, 2, TRAFFIC_HANG_S, &seen), 0);
	for (int i = 0, length; i < seen.n; i += length, chains++) {
		for (length = 1; i + length < seen.n && seen.g[i + length].what > GLIMPSE_BEGAN; length++)
			;
		overs += 1 + seen.g[i].again;
		for (int k = 0; k <= seen.g[i].again; k++, n += length) {
			assert_true(n + length <= 24 * 24);
			memcpy(&told[n], &seen.g[i], (size_t)length * sizeof *told);
			told[n].again = 0;
		}
	}
	/* Nobody followed the last one. */
	assert_int_equal(chains, 3);
	assert_int_equal(overs, 24);
	double once = renewal_likelihood(&r, seen.g, seen.n, 2), often = renewal_likelihood(&r, told, n, 2);
	assert_true(fabs(once - often) < 1e-9 * fabs(often));
	glimpses_free(&seen);
}

/* ---- shapes ---- */

static const struct {
	const char    *why;
	struct talker  t;
	struct watcher w;
	double         occupancy;
	enum shape     shape;
} shapes[] = {
	{ "a meter that reports every five minutes", { .over_s = 1.2, .lengths = LENGTHS_FIXED, .period_s = 300 },
	  { .revisit_s = 1 }, 0.01, SHAPE_PERIODIC },
	{ "one that sweeps miss half the time, late by seconds",
	  { .over_s = 1.2, .lengths = LENGTHS_FIXED, .period_s = 120, .jitter_s = 4 }, { .revisit_s = 2.5 }, 0.01,
	  SHAPE_PERIODIC },
	{ "packets at no period", { .over_s = 0.15, .gap_s = 30, .lengths = LENGTHS_FIXED, .overs = 2,
	  .every_s = 40 }, { .revisit_s = 0.5, .parked = 0.5 }, 0.01, SHAPE_BURSTS },
	{ "people", { .over_s = 4, .gap_s = 2, .lengths = LENGTHS_LOGNORMAL, .overs = 4, .every_s = 200 },
	  { .revisit_s = 2.5 }, 0.08, SHAPE_TALK },
	{ "people, parked on", { .over_s = 4, .gap_s = 2, .lengths = LENGTHS_LOGNORMAL, .overs = 4,
	  .every_s = 200 }, { .revisit_s = 2.5, .parked = 0.5 }, 0.08, SHAPE_TALK },
	{ "on in nearly all looks", { .over_s = 400, .gap_s = 2, .overs = 50, .every_s = 20 },
	  { .revisit_s = 2.5 }, 0.97, SHAPE_ALWAYS },
	{ "hardly anything", { .over_s = 4, .gap_s = 2, .overs = 1, .every_s = 9000 }, { .revisit_s = 2.5 }, 0.001,
	  SHAPE_UNKNOWN },
};

static void shapes_are_told(void **state)
{
	struct noise r = { SEED + 2 };

	(void)state;
	for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++)
		for (int k = 0; k < 4; k++) {
			struct spoken s;
			struct traffic t;
			int n;
			talker_speak(&shapes[i].t, 8, &r, &s);
			struct over *o = watcher_see(&shapes[i].w, &s, 8, 100, &r, &n, NULL);
			const struct watched w = { shapes[i].occupancy, 8 * 3600, shapes[i].w.revisit_s, 0 };
			assert_int_equal(traffic_measure(o, n, &w, &t), 0);
			if (t.shape != shapes[i].shape)
				fail_msg("seed %llu: %s: %s, want %s (%d overs of %.2f s)",
					 (unsigned long long)SEED + 2, shapes[i].why, shape_name(t.shape),
					 shape_name(shapes[i].shape), n, t.over_s.value);
			if (t.shape == SHAPE_PERIODIC &&
			    (fabs(t.period_s / shapes[i].t.period_s - 1) > 0.01 ||
			     t.jitter_s > shapes[i].t.jitter_s + shapes[i].w.revisit_s))
				fail_msg("%s: period %.2f s, jitter %.2f s", shapes[i].why, t.period_s, t.jitter_s);
			free(o);
			spoken_free(&s);
		}
}

/* Two looks 2.4 s apart, then a rest of 45 s, over and over: talk at any time is met at the
 * period of the rests. */
static void rests_are_no_period(void **state)
{
	struct noise r = { SEED + 4 };
	struct over o[80] = { 0 };
	struct traffic t;
	const struct watched w = { 0.05, 8 * 3600, 2.4, 0 };
	int64_t cycle = 0;

	(void)state;
	for (int i = 0; i < 80; i++) {
		bool second = noise_uniform(&r) < 0.5;
		cycle += 1 + (noise_uniform(&r) < 0.3 ? noise_between(&r, 1, 20) : 0);
		o[i] = (struct over){ .first_us = cycle * 47400000 + second * 2400000, .looks = 1, .busy_us = 20000,
			.before_us = second ? 2400000 : 45000000, .after_us = second ? 45000000 : 2400000 };
		o[i].last_us = o[i].first_us + 20000;
	}
	assert_int_equal(traffic_measure(o, 80, &w, &t), 0);
	if (t.period_s > 0)
		fail_msg("%.1f s +- %.1f s (seed %llu)", t.period_s, t.jitter_s, (unsigned long long)SEED + 4);
	/* The same times known to a second are as regular as can be. */
	for (int i = 0; i < 80; i++)
		o[i].before_us = o[i].after_us = 1000000;
	assert_int_equal(traffic_measure(o, 80, &w, &t), 0);
	assert_true(fabs(t.period_s - 47.4) < 2);
}

/* A stuck key is no over like others. */
static void stuck_key(void **state)
{
	struct over o[20] = { 0 };
	struct watched w = { 0.3, 7200, 2.5, 0 };
	struct traffic t;

	(void)state;
	for (int i = 0; i < 20; i++) {
		int64_t length_us = i == 10 ? INT64_C(1100000000) : 5000000;
		o[i] = (struct over){ .first_us = INT64_C(60000000) * i + (i > 10 ? INT64_C(1200000000) : 0),
				      .before_us = 2500000, .after_us = 2500000, .looks = 3, .kind = KIND_NFM };
		o[i].last_us = o[i].first_us + length_us;
		o[i].busy_us = 60000;
	}
	assert_int_equal(traffic_measure(o, 20, &w, &t), 0);
	assert_true(fabs(t.stuck_s - 1100) < 1);
	assert_true(t.over_s.value > 0 && t.over_s.value < 15);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(lengths_and_gaps),
		cmocka_unit_test(cut_overs_are_not_short),
		cmocka_unit_test(chains_alike_count_as_often),
		cmocka_unit_test(shapes_are_told),
		cmocka_unit_test(rests_are_no_period),
		cmocka_unit_test(stuck_key),
		cmocka_unit_test(whole_table),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
