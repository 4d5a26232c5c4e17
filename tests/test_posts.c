/* Several posts on one watch: who looks when one of them does not, and that what
 * was not looked at is not counted. On clocks of the sources' own, and on one that
 * is waited by. */
#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/watch.h"
#include "tests/fake_source.h"
#include "tests/survey_place.h"

#define SEED     UINT64_C(20260418)
#define SECOND   INT64_C(1000000)
#define DAY_US   INT64_C(1772323200000000)      /* 2026-03-01T00:00:00Z */
#define NOISE    1e-4
#define LEARN    128            /* blocks that only teach each post its passband    */
#define AT_S     9.0            /* trouble begins; learning is over at about 4.5 s  */
#define FOR_S    25.0
#define HANDED_S 4.5            /* nothing is unlooked at for longer than this      */
#define BANDS    4

/* Each is a hop of its own. */
static const struct band bands[BANDS] = {
	{ .id = "a", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(150000), { 37500 }, 10 } },
	{ .id = "b", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(151000), { 37500 }, 10 } },
	{ .id = "c", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(152000), { 37500 }, 10 } },
	{ .id = "d", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(153000), { 37500 }, 10 } },
};

struct outing {
	struct fake_source *fake[FAKE_POSTS];
	struct fake_clock   clock;
	int                 posts, result;
	struct fault        why;
	struct world_seen   seen;
	struct hop_plan     hops;
	int64_t             looks[BANDS], looked_us[BANDS];
	struct onlooker     onlooker;           /* see NULL: nobody */
	double              for_s, warm_up_s;   /* 0: FOR_S, none   */
};

struct row {
	const char   *why;
	int           posts;
	struct script script[FAKE_POSTS];
	int           fragile;          /* the hop at which a source is lost or deaf */
	double        park_share;
	bool          waits_only;       /* makes no sense on a clock of its own      */
	const char   *incidents;        /* what of each kind, in order of the alphabet */
	double        unlooked_s;       /* no hop is left alone for longer; 0: not told */
};

#define NEVER  { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 0 }

static struct fake_source *fake_create(const struct row *r, int post, struct outing *o, bool waits,
				       volatile sig_atomic_t *stop)
{
	struct fake_source *f = calloc(1, sizeof *f);

	assert_non_null(f);
	f->script = r->script[post];
	f->utc_us = DAY_US + 600 * SECOND;
	f->stop = stop;
	f->fragile = o->hops.hops[r->fragile].centre;
	f->on_s = f->off_s = NEVER_S;
	f->carrier = raster_centre(&bands[0].raster, 3);
	f->noise_power = NOISE;
	f->noise.state = SEED + (uint64_t)post;
	f->broken_at = -1;
	f->clock = waits ? &o->clock : NULL;
	o->clock.source[post] = f;
	return f;
}

static void add_up(struct outing *o)
{
	assert_in_range(o->seen.n_coverage, BANDS - 1, WORLD_ROWS);
	for (int i = 0; i < o->seen.n_coverage; i++) {
		o->looks[o->seen.coverage[i].band] += o->seen.coverage[i].looks;
		o->looked_us[o->seen.coverage[i].band] += o->seen.coverage[i].looked_us;
	}
}

/* late: NULL, or ops to find the only source by, which then warms up. */
static void watch_by(const struct place *p, const struct row *r, bool waits,
		     const struct source_ops *late, struct outing *o)
{
	struct run_row run = { .start_us = DAY_US, .rate_hz = FAKE_RATE, .dwell_us = 20000 };
	struct watch_source sources[FAKE_POSTS] = { 0 };
	struct clock clock = fake_clock(&o->clock);
	volatile sig_atomic_t stop = 0;
	struct progress progress = { 0 };
	struct station station;

	assert_int_equal(station_read(NULL, &station, &o->why), 0);
	station.warm_up_us = late ? 60 * SECOND : (int64_t)(o->warm_up_s * 1e6);
	station.track = false;
	station.commit_us = SECOND;
	station.park_us = 2 * SECOND;
	station.park_share = r->park_share;
	for (int i = 0; i < r->posts; i++) {
		sources[i] = (struct watch_source){ .ops = &fake_source_ops, .about = {
			.tunable = true, .rate_hz = FAKE_RATE, .start_us = DAY_US + 600 * SECOND,
			.virtual_clock = !waits } };
		snprintf(sources[i].about.label, sizeof sources[i].about.label, "fake %c", 'A' + i);
		sources[i].source = o->fake[i] = fake_create(r, i, o, waits, &stop);
	}
	if (late) {
		sources[0].ops = late;
		sources[0].request.arg = (const char *)sources[0].source;
		sources[0].source = NULL;
	}
	struct survey *survey = survey_write(p->path, &run, bands, BANDS, &o->why);
	assert_non_null(survey);
	struct watch n = {
		.sources = sources, .n_sources = r->posts, .station = &station, .bands = bands,
		.n_bands = BANDS, .hops = &o->hops, .survey = survey, .run = run.id,
		.for_us = (int64_t)((o->for_s > 0 ? o->for_s : FOR_S) * 1e6), .stop = &stop, .progress = &progress, .clock = &clock,
		.onlookers = &o->onlooker, .n_onlookers = o->onlooker.see != NULL,
	};
	o->result = watch_run(&n, &o->why);
	survey_close(survey);
	station_free(&station);
}

static struct outing go(const struct place *p, const struct row *r, bool waits)
{
	struct outing o = { .posts = r->posts, .clock.sources = r->posts };

	empty_place(p);
	assert_int_equal(hop_plan_sweep(&o.hops, bands, BANDS, FAKE_RATE), 0);
	assert_int_equal(o.hops.n, BANDS);
	watch_by(p, r, waits, NULL, &o);
	o.seen = see_all(p->path);
	add_up(&o);
	return o;
}

static void let_go(struct outing *o)
{
	for (int i = 0; i < o->posts; i++)
		free(o->fake[i]);
	hop_plan_free(&o->hops);
}

static const struct row rows[] = {
	{ "one post", 1, { NEVER }, 1, 0, false, "", 0.3 },
	{ "one post that parks", 1, { NEVER }, 1, 0.5, false, "", 2.5 },
	{ "two posts", 2, { NEVER, NEVER }, 1, 0, false, "", 0.2 },
	{ "three for four hops", 3, { NEVER, NEVER, NEVER }, 1, 0, false, "", 0.2 },
	{ "two that park", 2, { NEVER, NEVER }, 1, 0.5, false, "", 2.5 },
	{ "one is lost and back", 2, { NEVER, { TROUBLE_LOST, AT_S, 17, 0, 0 } }, 3, 0, false,
	  "handed handed lost ", HANDED_S },
	{ "the other is", 2, { { TROUBLE_LOST, AT_S, 17, 0, 0 }, NEVER }, 0, 0, false,
	  "handed handed lost ", HANDED_S },
	{ "lost while they park", 2, { { TROUBLE_LOST, AT_S, 17, 0, 0 }, NEVER }, 0, 0.5, false,
	  "handed handed lost ", HANDED_S + 2.5 },
	{ "lost for a moment only", 2, { NEVER, { TROUBLE_LOST, AT_S, AT_S + 0.5, 0, 0 } }, 3, 0, false,
	  "lost ", HANDED_S },
	{ "never back", 2, { NEVER, { TROUBLE_LOST, AT_S, NEVER_S, 0, 0 } }, 3, 0, false, "handed lost ",
	  HANDED_S },
	{ "fails for good", 2, { NEVER, { TROUBLE_DEAD, AT_S, NEVER_S, 0, 0 } }, 3, 0, false,
	  "handed stopped ", HANDED_S },
	{ "comes to its end", 2, { { TROUBLE_END, AT_S, NEVER_S, 0, 0 }, NEVER }, 3, 0, false, "handed ",
	  HANDED_S },
	{ "hangs without a word", 2, { { TROUBLE_HANGS, AT_S, NEVER_S, 0, 0 }, NEVER }, 3, 0, true,
	  "handed ", HANDED_S },
	{ "not there at the start", 2, { NEVER, { TROUBLE_TUNING, 0, 12, 0, 0 } }, 3, 0, false,
	  "handed handed lost ", 0 },
	{ "one of three is lost", 3, { NEVER, { TROUBLE_LOST, AT_S, 17, 0, 0 }, NEVER }, 2, 0, false,
	  "handed handed lost ", HANDED_S },
	{ "all are lost at once", 2, { { TROUBLE_TUNING, AT_S, 12, 0, 0 }, { TROUBLE_TUNING, AT_S, 12, 0, 0 } },
	  0, 0, false, "lost lost ", 8 },
	{ "a hop can't be had", 1, { { TROUBLE_DEAF, 0, NEVER_S, 0, 0 } }, 2, 0, false, "deaf ", 0 },
	{ "for a while", 1, { { TROUBLE_DEAF, AT_S, 15, 0, 0 } }, 2, 0, false, "deaf ", 6.4 },
	{ "not by one of two", 2, { NEVER, { TROUBLE_DEAF, AT_S, 15, 0, 0 } }, 2, 0, false, "deaf ", 6.4 },
};

#define ROWS (sizeof rows / sizeof rows[0])

static int by_name(const void *a, const void *b)
{
	return strcmp(((const struct incident_row *)a)->what, ((const struct incident_row *)b)->what);
}

static void check_incidents(const struct row *r, struct outing *o)
{
	char all[256] = "";

	if (o->seen.n_incident > WORLD_ROWS)
		fail_msg("%s: %d incidents, the last kept: %s", r->why, o->seen.n_incident,
			 o->seen.incident[WORLD_ROWS - 1].text);
	qsort(o->seen.incident, (size_t)o->seen.n_incident, sizeof *o->seen.incident, by_name);
	for (int i = 0; i < o->seen.n_incident; i++)
		snprintf(all + strlen(all), sizeof all - strlen(all), "%s ", o->seen.incident[i].what);
	if (strcmp(all, r->incidents) == 0)
		return;
	for (int i = 0; i < o->seen.n_incident; i++)
		print_message("  %.1f s: %s\n",
			      1e-6 * (double)(o->seen.incident[i].at_us - DAY_US - 600 * SECOND),
			      o->seen.incident[i].text);
	fail_msg("%s: incidents are \"%s\", want \"%s\"", r->why, all, r->incidents);
}

static int learnt_from(const struct fake_source *f)
{
	bool deaf = f->script.trouble == TROUBLE_DEAF && f->script.at_s < AT_S;

	return deaf ? LEARN * (BANDS - 1) / BANDS : LEARN;
}

/* A look counts once, where samples were handed over, and nowhere else. What came
 * to a post whose hop was another's by then does not: a handful. */
static void check_looked(const struct row *r, const struct outing *o)
{
	int64_t handed[BANDS] = { 0 }, us = 0, all = 0, kept = 0;

	for (int p = 0; p < o->posts; p++)
		for (int i = learnt_from(o->fake[p]); i < o->fake[p]->blocks; i++) {
			const struct delivery *d = &o->fake[p]->block[i];
			for (int b = 0; b < BANDS; b++)
				handed[b] += d->centre.thirds == o->hops.hops[b].centre.thirds;
			us = d->end_us - d->start_us;
			all++;
		}
	for (int b = 0; b < BANDS; b++) {
		kept += o->looks[b];
		if (o->looks[b] > handed[b] || llabs(o->looked_us[b] - o->looks[b] * us) > o->looks[b])
			fail_msg("%s: hop %d: %" PRId64 " looks of %" PRId64 " blocks, %" PRId64 " us", r->why,
				 b, o->looks[b], handed[b], o->looked_us[b]);
	}
	if (r->park_share <= 0 ? kept < all - 2 * o->posts : kept > 3 * all / 4)
		fail_msg("%s: %" PRId64 " looks of %" PRId64 " blocks", r->why, kept, all);
}

/* Longest time between two blocks of a hop, by whatever post, to the end of the watch. */
static double longest_gap_s(const struct outing *o, int hop, int64_t from_us, int64_t to_us)
{
	int64_t last = from_us, worst = 0;

	for (;;) {
		int64_t next = INT64_MAX;
		for (int p = 0; p < o->posts; p++)
			for (int i = LEARN; i < o->fake[p]->blocks; i++) {
				const struct delivery *d = &o->fake[p]->block[i];
				if (d->centre.thirds == o->hops.hops[hop].centre.thirds &&
				    d->mono_us > last && d->mono_us < next)
					next = d->mono_us;
			}
		if (next > to_us)
			return 1e-6 * (double)(to_us - last > worst ? to_us - last : worst);
		worst = next - last > worst ? next - last : worst;
		last = next;
	}
}

static void check_unlooked(const struct row *r, const struct outing *o)
{
	int64_t from = o->fake[0]->block[LEARN].mono_us;

	for (int hop = 0; hop < BANDS && r->unlooked_s > 0; hop++) {
		double s = longest_gap_s(o, hop, from, from + (int64_t)(FOR_S * 1e6) - SECOND);
		if (s > r->unlooked_s)
			fail_msg("%s: hop %d was not looked at for %.2f s", r->why, hop, s);
	}
}

static void check_row(const struct place *p, const struct row *r, bool waits)
{
	struct outing o = go(p, r, waits);

	if (o.result != 0)
		fail_msg("%s: %s", r->why, o.why.text);
	check_incidents(r, &o);
	check_looked(r, &o);
	check_unlooked(r, &o);
	if (waits && o.clock.idle_waits * 20 > o.clock.waits)
		fail_msg("%s: %d of %d waits were for nothing", r->why, o.clock.idle_waits, o.clock.waits);
	let_go(&o);
}

static void on_clocks_of_their_own(void **state)
{
	for (size_t i = 0; i < ROWS; i++)
		if (!rows[i].waits_only)
			check_row(*state, &rows[i], false);
}

static void on_a_clock_to_wait_by(void **state)
{
	for (size_t i = 0; i < ROWS; i++)
		check_row(*state, &rows[i], true);
}

/* Found at the third try. arg: the fake, and open is told not to wait for it. */
static void *found_late(const struct source_request *request, struct fault *why)
{
	struct fake_source *f = (struct fake_source *)(uintptr_t)request->arg;

	assert_true(request->at_once);
	if (++f->opened >= 3)
		return f;
	fault_set(why, FAULT_RETRY, "the fake is not plugged in");
	return NULL;
}

static void about_it(void *self, struct source_about *out)
{
	(void)self;
	*out = (struct source_about){ .tunable = true, .label = "fake, found" };
}

/* It is asked for again and again, and warms up from when it is found. */
static void one_that_is_not_there_is_asked_for(void **state)
{
	const struct row r = { "late", 1, { NEVER }, 1, 0, false, "", 0 };
	struct outing o = { .posts = 1, .clock.sources = 1 };
	struct source_ops ops = fake_source_ops;
	struct world_seen *seen = &o.seen;

	ops.open = found_late;
	ops.about = about_it;
	empty_place(*state);
	assert_int_equal(hop_plan_sweep(&o.hops, bands, BANDS, FAKE_RATE), 0);
	watch_by(*state, &r, true, &ops, &o);
	*seen = see_all(((struct place *)*state)->path);
	assert_int_equal(o.result, 0);
	assert_int_equal(o.fake[0]->opened, 3);
	assert_int_equal(seen->n_incident, 2);
	int lost = strcmp(seen->incident[0].what, "lost") != 0, warm = !lost;
	const struct incident_row *away = &seen->incident[lost], *warmed = &seen->incident[warm];
	assert_string_equal(away->what, "lost");
	assert_string_equal(warmed->what, "warm-up");
	/* After waits of 1 and 2 s it was there; then 60 s pass, and learning. */
	assert_in_range(away->until_us - away->at_us, 3 * SECOND, 3 * SECOND + SECOND / 10);
	assert_in_range(warmed->at_us - away->until_us, 0, SECOND / 10);
	assert_int_equal(warmed->until_us - warmed->at_us, 60 * SECOND);
	/* One block to meet it by, and none while it warms up. */
	assert_in_range(o.fake[0]->block[1].mono_us - o.fake[0]->block[0].mono_us, 60 * SECOND,
			60 * SECOND + SECOND / 10);
	let_go(&o);
}

static bool same_coverage(const struct coverage_row *a, const struct coverage_row *b)
{
	return a->hour == b->hour && a->band == b->band && a->first == b->first &&
	       a->count == b->count && a->looks == b->looks && a->pairs == b->pairs &&
	       a->looked_us == b->looked_us && a->clipped == b->clipped &&
	       a->floor_ddb_sum == b->floor_ddb_sum && a->floor_low_ddb == b->floor_low_ddb &&
	       a->floor_high_ddb == b->floor_high_ddb;
}

/* The same night again, block by block: also with two posts, parks and a loss. */
static void replays_identically(void **state)
{
	const struct row r = { "again", 2, { NEVER, { TROUBLE_LOST, AT_S, 17, 0, 0 } }, 3, 0.5, false, "", 0 };
	struct outing a = go(*state, &r, false), b = go(*state, &r, false);

	for (int p = 0; p < 2; p++) {
		assert_int_equal(a.fake[p]->blocks, b.fake[p]->blocks);
		assert_memory_equal(a.fake[p]->block, b.fake[p]->block, sizeof a.fake[p]->block);
	}
	assert_int_equal(a.seen.n_coverage, b.seen.n_coverage);
	for (int i = 0; i < a.seen.n_coverage; i++)     /* not as bytes: what pads them is anything */
		assert_true(same_coverage(&a.seen.coverage[i], &b.seen.coverage[i]));
	assert_int_equal(a.seen.n_incident, b.seen.n_incident);
	let_go(&a);
	let_go(&b);
}

/* A hop that can't be had is not quiet: nothing of it is counted. */
static void deaf_is_not_looked(void **state)
{
	const struct row r = { "deaf from the start", 1, { { TROUBLE_DEAF, 0, NEVER_S, 0, 0 } }, 2, 0,
			       false, "deaf ", 0 };
	struct outing o = { .posts = 1, .clock.sources = 1 };

	empty_place(*state);
	assert_int_equal(hop_plan_sweep(&o.hops, bands, BANDS, FAKE_RATE), 0);
	watch_by(*state, &r, true, NULL, &o);
	o.seen = see_all(((struct place *)*state)->path);
	for (int i = 0; i < o.seen.n_coverage; i++)
		if (o.seen.coverage[i].band == 2)
			fail_msg("%" PRId64 " looks at what can't be had", o.seen.coverage[i].looks);
	assert_int_equal(o.seen.n_coverage, BANDS - 1);
	assert_non_null(strstr(o.seen.incident[0].text, "did not lock at 152."));
	let_go(&o);
}

static const struct {
	const char *why;
	double      back_s, warms_s;
} unplugged[] = {
	{ "for five minutes: still warm", 370, 0 },
	{ "for twelve: cold again, as at the start", 790, 60 },
};

/* Lost from the 70th second on, a few seconds after the first look; asked for every half
 * minute once it is long away. */
static void after_long_it_warms_up_again(void **state)
{
	for (size_t i = 0; i < sizeof unplugged / sizeof unplugged[0]; i++) {
		const struct row r = { unplugged[i].why, 1,
			{ { TROUBLE_TUNING, 70, unplugged[i].back_s, 0, 0 } }, 3, 0, false, "", 0 };
		struct outing o = { .posts = 1, .clock.sources = 1, .warm_up_s = 60,
				    .for_s = unplugged[i].back_s + 35 + unplugged[i].warms_s - 64 };
		empty_place(*state);
		assert_int_equal(hop_plan_sweep(&o.hops, bands, BANDS, FAKE_RATE), 0);
		watch_by(*state, &r, true, NULL, &o);
		assert_int_equal(o.result, 0);
		o.seen = see_all(((struct place *)*state)->path);
		double rest_s = 0;
		const struct delivery *d = o.fake[0]->block;
		for (int k = 1; k < o.fake[0]->blocks; k++)
			if ((double)d[k - 1].mono_us * 1e-6 > unplugged[i].back_s)
				rest_s = fmax(rest_s, (double)(d[k].mono_us - d[k - 1].mono_us) * 1e-6);
		int warm_ups = 0;
		for (int k = 0; k < o.seen.n_incident; k++)
			warm_ups += strcmp(o.seen.incident[k].what, "warm-up") == 0;
		if (warm_ups != 1 + (unplugged[i].warms_s > 0) || rest_s < unplugged[i].warms_s ||
		    rest_s > unplugged[i].warms_s + 1)
			fail_msg("%s: warmed up %d times, %.1f s without a look once it was back", r.why,
				 warm_ups, rest_s);
		let_go(&o);
	}
}

static void *never_found(const struct source_request *request, struct fault *why)
{
	(void)request;
	fault_set(why, FAULT_RETRY, "the fake is not plugged in");
	return NULL;
}

/* What never comes is not waited for longer than the watch would last; and that nothing
 * was looked at is no success. */
static void nobody_comes(void **state)
{
	const struct row r = { "never", 1, { NEVER }, 1, 0, false, "", 0 };
	struct outing o = { .posts = 1, .clock.sources = 1 };
	struct source_ops absent = fake_source_ops;

	absent.open = never_found;
	empty_place(*state);
	assert_int_equal(hop_plan_sweep(&o.hops, bands, BANDS, FAKE_RATE), 0);
	watch_by(*state, &r, true, &absent, &o);
	assert_int_equal(o.result, -1);
	assert_int_equal(o.why.kind, FAULT_RETRY);
	assert_string_equal(o.why.text, "nothing was looked at: fake A never came");
	assert_in_range(o.clock.now_us, (int64_t)(FOR_S * 1e6), (int64_t)(FOR_S * 1e6) + SECOND);
	o.seen = see_all(((struct place *)*state)->path);
	assert_int_equal(o.seen.n_coverage, 0);
	assert_int_equal(o.seen.n_incident, 1);
	assert_string_equal(o.seen.incident[0].what, "lost");
	assert_string_equal(o.seen.incident[0].text, "the source never came");
	let_go(&o);
}

/* Whether its source was told of another hop before a look was shown. */
struct early {
	struct fake_source *const *fake;
	int looks, ordered;
};

static void see_order(void *self, const struct sight *s)
{
	struct early *e = self;

	e->looks++;
	e->ordered += e->fake[s->post]->tuned.centre.thirds != s->hop->centre.thirds;
}

/* A tuner needs its time: it is told where to go next before the last look is judged,
 * but for the last one of a sweep; where time is in the data that gains nothing. */
static void the_next_hop_is_ordered_first(void **state)
{
	const struct row r = { "ordered", 2, { NEVER, NEVER }, 1, 0, false, "", 0 };

	for (int waits = 0; waits < 2; waits++) {
		struct outing o = { .posts = 2, .clock.sources = 2 };
		struct early e = { .fake = o.fake };

		empty_place(*state);
		assert_int_equal(hop_plan_sweep(&o.hops, bands, BANDS, FAKE_RATE), 0);
		o.onlooker = (struct onlooker){ &e, see_order, NULL };
		watch_by(*state, &r, waits, NULL, &o);
		assert_int_equal(o.result, 0);
		assert_in_range(e.looks, 500, 5000);
		if (!waits)
			assert_int_equal(e.ordered, 0);
		else    /* of two hops each the first one's look; not at the end */
			assert_in_range(e.ordered, e.looks / 2 - 3, e.looks / 2 + 3);
		let_go(&o);
	}
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(on_clocks_of_their_own),
		TEST(on_a_clock_to_wait_by),
		TEST(one_that_is_not_there_is_asked_for),
		TEST(replays_identically),
		TEST(deaf_is_not_looked),
		TEST(the_next_hop_is_ordered_first),
		TEST(after_long_it_warms_up_again),
		TEST(nobody_comes),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
