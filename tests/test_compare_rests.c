#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/census_world.h"
#include "tests/traffic_world.h"
#include "tools/plan/compare.h"

/* Nights that differ in when they were looked at, and in nothing else or in how much was said.
 * Overs are what the daemon's own track makes of looks. BANDCENSUS_TABLES=N plays N times as many. */

#define CHANNELS 40
#define HOURS    5
#define ALL_NIGHT 12
#define SEED     UINT64_C(20260417)

static const struct {
	const char *name;
	struct watcher w;
} watchers[] = {
	{ "all night", { .revisit_s = 2.1, .parked = 0.1 } },
	{ "three sweeps, 90 s", { .revisit_s = 2.1, .sweeps = 3, .rest_s = 90 } },
	{ "ten sweeps, 30 s", { .revisit_s = 3, .sweeps = 10, .rest_s = 30 } },
	{ "slowly", { .revisit_s = 15 } },
};
enum { WATCHERS = sizeof watchers / sizeof watchers[0] };

static int times(void)
{
	const char *n = getenv("BANDCENSUS_TABLES");

	return n && atoi(n) > 0 ? atoi(n) : 1;
}

static double between(struct noise *r, double low, double high)
{
	return low * pow(high / low, noise_uniform(r));
}

/* From a channel that is heard once a night to one that is on a third of the time. */
static struct talker somebody(struct noise *r)
{
	struct talker t = { .over_s = between(r, 1, 15), .gap_s = between(r, 1, 3),
			    .overs = between(r, 1, 10), .lengths = LENGTHS_LOGNORMAL };
	double exchange_s = t.overs * (t.over_s + t.gap_s);

	t.every_s = fmax(2 * exchange_s, between(r, 60, 7200));
	return t;
}

static void add(struct tally *t, int channel, const struct watched_hours *kept, const struct over *o, int n,
		int hours)
{
	for (int h = 0; h < hours; h++) {
		struct coverage_row c = kept->cover[h];
		struct activity_row a = kept->activity[h];
		c.run = a.run = 1;
		c.hour = a.hour = TRAFFIC_US + h * HOUR_US;
		c.first = a.channel = channel;
		c.count = 1;
		assert_int_equal(tally_coverage(t, &c), 0);
		assert_int_equal(tally_activity(t, &a), 0);
	}
	for (int i = 0; i < n; i++) {
		const struct transmission_row row = {
			.run = 1, .channel = channel, .first_us = o[i].first_us, .last_us = o[i].last_us,
			.before_us = o[i].before_us, .after_us = o[i].after_us, .busy_us = o[i].busy_us,
			.looks = o[i].looks, .level_ddb = o[i].level_ddb, .peak_ddb = o[i].peak_ddb,
			.width_hz = 8000, .kind = KIND_NFM, .confidence = 900,
		};
		assert_int_equal(tally_transmission(t, &row), 0);
	}
}

/* Talkers and how long they are listened to. */
struct scene {
	struct talker who[CHANNELS];
	int           n, hours;
};

/* One night of these, far enough apart on the fire band. busier: so many times the exchanges. */
static struct census *night(const struct scene *s, double busier, const struct watcher *by,
			    struct noise *r)
{
	struct tally *t = tally_create(world_band, WORLD_BANDS, 60);
	struct run_row run = night_run(s->hours);

	assert_non_null(t);
	tally_hourly(t);
	assert_int_equal(tally_run(t, &run), 0);
	for (int i = 0; i < s->n; i++) {
		struct talker of = s->who[i];
		struct watcher w = *by;
		struct watched_hours kept = { 0 };
		struct spoken spoken;
		int n;
		of.every_s /= busier;
		w.phase_s = 2 * noise_uniform(r);
		talker_speak(&of, s->hours, r, &spoken);
		struct over *o = watcher_see(&w, &spoken, s->hours, 100, r, &n, &kept);
		add(t, 6 * i, &kept, o, n, s->hours);
		free(o);
		spoken_free(&spoken);
	}
	struct census *c = tally_finish(t);
	tally_destroy(t);
	assert_non_null(c);
	return c;
}

struct result {
	int comparisons, changed;       /* that say something changed                  */
	int busier, quieter;            /* channels                                    */
	int heard, covered;             /* by both; of them, true times in the interval */
};

/* How much more a talker is on, with so many times the exchanges. */
static double true_times(const struct talker *t, double busier)
{
	double exchange_s = t->overs * t->over_s + (t->overs - 1) * t->gap_s;

	return (exchange_s + t->every_s) / (exchange_s + t->every_s / busier);
}

static void judge(const struct comparison *c, const struct scene *s, double busier, struct result *to)
{
	int changed = 0;

	for (int i = 0; i < c->n + c->alike; i++) {
		const struct difference *d = &c->of[i];
		int who = raster_nearest(&world_band[0].raster, d->centre) / 6;
		changed += d->is >= CHANGE_NEW && d->is <= CHANGE_QUIETER;
		to->busier += d->is == CHANGE_BUSIER || d->is == CHANGE_NEW;
		to->quieter += d->is == CHANGE_QUIETER || d->is == CHANGE_GONE;
		if (d->side[0].busy > 0 && d->side[1].busy > 0) {
			double is = true_times(&s->who[who], busier);
			to->heard++;
			to->covered += d->times.low <= is && is <= d->times.high;
		}
	}
	to->comparisons++;
	to->changed += changed > 0;
}

static void play(const struct scene *s, double busier, int first, int second, struct noise *r,
		 struct result *to)
{
	struct census *a = night(s, 1, &watchers[first].w, r), *b = night(s, busier, &watchers[second].w, r);
	struct comparison c;

	assert_int_equal(compare(a, b, &c), 0);
	judge(&c, s, busier, to);
	comparison_free(&c);
	census_destroy(a);
	census_destroy(b);
}

static void gather(struct result *all, const struct result *more)
{
	all->comparisons += more->comparisons;
	all->changed += more->changed;
	all->busier += more->busier;
	all->quieter += more->quieter;
	all->heard += more->heard;
	all->covered += more->covered;
}

/* Each comparison is wrong with a chance of 1 % at the most, and an interval in 5 %. */
static void rests_change_nothing(void **state)
{
	struct noise r = { SEED };
	struct result all = { 0 };

	(void)state;
	for (int a = 0; a < WATCHERS; a++)
		for (int b = 0; b < WATCHERS; b++) {
			struct result of = { 0 };
			for (int n = 0; n < 3 * times(); n++) {
				struct scene s = { .n = CHANNELS, .hours = HOURS };
				for (int i = 0; i < s.n; i++)
					s.who[i] = somebody(&r);
				play(&s, 1, a, b, &r, &of);
			}
			if (times() > 1)
				printf("%-20s then %-20s: %d of %d wrong, intervals hold %.1f %%\n", watchers[a].name,
				       watchers[b].name, of.changed, of.comparisons, 100.0 * of.covered / of.heard);
			gather(&all, &of);
		}
	double may = 0.01 * all.comparisons, holds = (double)all.covered / all.heard;
	print_message("%d of %d comparisons wrong, intervals hold %.1f %% of %d\n", all.changed, all.comparisons,
		      100 * holds, all.heard);
	if (all.changed > may + 3 * sqrt(may) + 0.5)
		fail_msg("%d of %d comparisons saw a change that was none (seed %" PRIu64 ")", all.changed,
			 all.comparisons, SEED);
	if (holds < 0.94)
		fail_msg("95 %% intervals hold %.1f %% of %d (seed %" PRIu64 ")", 100 * holds, all.heard, SEED);
}

/* Twice as much talk, in twelve hours: who is heard often enough is found, whoever rests. */
static void twice_is_found(void **state)
{
	struct noise r = { SEED + 1 };
	struct result all = { 0 };

	(void)state;
	for (int a = 0; a < WATCHERS; a++)
		for (int b = 0; b < WATCHERS; b++) {
			struct result of = { 0 };
			for (int n = 0; n < times(); n++) {
				struct scene s = { .n = 6, .hours = ALL_NIGHT };
				for (int i = 0; i < s.n; i++)
					s.who[i] = (struct talker){ .over_s = 5, .gap_s = 2, .overs = 1 + i % 3,
						.lengths = LENGTHS_LOGNORMAL, .every_s = 75 + 5 * i };
				play(&s, 2, a, b, &r, &of);
			}
			if (times() > 1)
				printf("%-20s then %-20s: %d of %d busier, %d quieter, intervals hold %.1f %%\n",
				       watchers[a].name, watchers[b].name, of.busier, 6 * of.comparisons, of.quieter,
				       100.0 * of.covered / of.heard);
			gather(&all, &of);
		}
	print_message("%d of %d found busier, %d quieter\n", all.busier, 6 * all.comparisons, all.quieter);
	assert_int_equal(all.quieter, 0);
	if (all.busier < 0.9 * 6 * all.comparisons)
		fail_msg("%d of %d found twice as busy (seed %" PRIu64 ")", all.busier, 6 * all.comparisons, SEED + 1);
}

/* Against the union of the intervals, end by end. */
static void hours_by_bunches(void **state)
{
	static const double lengths[] = { 0.01, 0.5, 1.9, 5, 30, 88, 200 };
	const double look_s = 0.02, away_s = 2, hole_s = 90;

	(void)state;
	for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
		struct exposure x = { 0 };
		double union_s = 0, met_to = 0, at = 0;
		for (; at < 3600; x.looks++) {
			bool first = (int)x.looks % 3 == 0;
			at += first ? hole_s : away_s;
			x.pairs += !first;
			union_s += at + look_s - fmax(at - lengths[i], met_to);
			met_to = at += look_s;
		}
		x.looked_s = x.looks * look_s;
		x.wall_s = at;
		double got = exposure_seen_s(&x, away_s, lengths[i]);
		if (fabs(got / union_s - 1) > 1e-9)
			fail_msg("%g s long: met in %.3f s, want %.3f", lengths[i], got, union_s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(hours_by_bunches),
		cmocka_unit_test(rests_change_nothing),
		cmocka_unit_test(twice_is_found),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
