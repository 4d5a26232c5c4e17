#include "tests/posts_world.h"

#include <stdio.h>
#include <stdlib.h>

#include "tests/test.h"

#define SEED  UINT64_C(20260418)
#define NOISE 1e-4

const struct band posts_bands[BANDS] = {
	{ .id = "a", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(150000), { 37500 }, 10 } },
	{ .id = "b", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(151000), { 37500 }, 10 } },
	{ .id = "c", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(152000), { 37500 }, 10 } },
	{ .id = "d", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(153000), { 37500 }, 10 } },
};

static struct fake_source *fake_create(const struct posts_row *r, int post, struct posts_outing *o, bool waits,
				       volatile sig_atomic_t *stop)
{
	struct fake_source *f = calloc(1, sizeof *f);

	assert_non_null(f);
	f->script = r->script[post];
	f->utc_us = DAY_US + 600 * SECOND;
	f->stop = stop;
	f->fragile = o->hops.hops[r->fragile].centre;
	f->on_s = f->off_s = NEVER_S;
	f->carrier = raster_centre(&posts_bands[0].raster, 3);
	f->noise_power = NOISE;
	f->noise.state = SEED + (uint64_t)post;
	f->broken_at = -1;
	f->clock = waits ? &o->clock : NULL;
	o->clock.source[post] = f;
	return f;
}

static void add_up(struct posts_outing *o)
{
	assert_in_range(o->seen.n_coverage, BANDS - 1, WORLD_ROWS);
	for (int i = 0; i < o->seen.n_coverage; i++) {
		o->looks[o->seen.coverage[i].band] += o->seen.coverage[i].looks;
		o->looked_us[o->seen.coverage[i].band] += o->seen.coverage[i].looked_us;
	}
}

void posts_watch(const struct place *p, const struct posts_row *r, bool waits,
		 const struct source_ops *late, struct posts_outing *o)
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
	struct survey *survey = survey_write(p->path, &run, posts_bands, BANDS, &o->why);
	assert_non_null(survey);
	struct watch n = {
		.sources = sources, .n_sources = r->posts, .station = &station, .bands = posts_bands,
		.n_bands = BANDS, .hops = &o->hops, .survey = survey, .run = run.id,
		.for_us = (int64_t)((o->for_s > 0 ? o->for_s : FOR_S) * 1e6), .stop = &stop, .progress = &progress, .clock = &clock,
		.onlookers = &o->onlooker, .n_onlookers = o->onlooker.see != NULL,
	};
	o->result = watch_run(&n, &o->why);
	survey_close(survey);
	station_free(&station);
}

struct posts_outing posts_go(const struct place *p, const struct posts_row *r, bool waits)
{
	struct posts_outing o = { .posts = r->posts, .clock.sources = r->posts };

	empty_place(p);
	assert_int_equal(hop_plan_sweep(&o.hops, posts_bands, BANDS, FAKE_RATE), 0);
	assert_int_equal(o.hops.n, BANDS);
	posts_watch(p, r, waits, NULL, &o);
	o.seen = see_all(p->path);
	add_up(&o);
	return o;
}

void posts_let_go(struct posts_outing *o)
{
	for (int i = 0; i < o->posts; i++)
		free(o->fake[i]);
	hop_plan_free(&o->hops);
}
