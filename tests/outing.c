#include "tests/outing.h"

#include <stdlib.h>

#include <sqlite3.h>

#include "daemon/watch.h"

/* Two bands so far apart that each is a hop of its own. */
const struct band outing_bands[] = {
	{ .id = "low",  .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(150000), { 37500 }, 10 } },
	{ .id = "high", .service = "business", .mode = MODE_NFM, .width_hz = 11000,
	  .raster = { FREQ_KHZ(151000), { 37500 }, 10 } },
};

static struct fake_source *fake_create(const struct script *s, int64_t utc_us,
				       const struct hop_plan *hops, volatile sig_atomic_t *stop)
{
	struct fake_source *f = calloc(1, sizeof *f);

	assert_non_null(f);
	f->script = *s;
	f->utc_us = utc_us;
	f->stop = stop;
	f->fragile = hops->hops[1].centre;
	f->on_s = ON_S;
	f->off_s = OFF_S;
	f->carrier = raster_centre(&outing_bands[0].raster, CHANNEL);
	f->noise_power = NOISE;
	f->carrier_power = 100 * NOISE * band_measured_hz(&outing_bands[0]) / FAKE_RATE;      /* 20 dB */
	f->noise.state = SEED;
	f->broken_at = -1;
	return f;
}

static void read_strips(struct outing *o, const char *path)
{
	struct survey *s = must_read(path);

	for (int b = 0; b < BANDS; b++)
		assert_int_equal(picture_read(s, b, DAY_US, DAY_US + MINUTES * STRIP_MINUTE_US,
					      STRIP_MINUTE_US, o->strip[b][0], NULL, &o->why), 0);
	survey_close(s);
}

static void add_up(struct outing *o)
{
	assert_in_range(o->seen.n_coverage, 0, WORLD_ROWS);
	assert_in_range(o->seen.n_activity, 0, WORLD_ROWS);
	for (int i = 0; i < o->seen.n_coverage; i++) {
		o->looks[o->seen.coverage[i].band] += o->seen.coverage[i].looks;
		o->looked_us[o->seen.coverage[i].band] += o->seen.coverage[i].looked_us;
	}
	for (int i = 0; i < o->seen.n_activity; i++) {
		o->busy_looks += o->seen.activity[i].busy_looks;
		o->busy_us += o->seen.activity[i].busy_us;
	}
}

struct outing go_with(const struct place *p, const struct script *script, int64_t utc_us,
			     double for_s, const struct besides *besides)
{
	struct failing_disk disk = { .stay = true, .code = SQLITE_FULL };
	struct watch_source source = { .ops = &fake_source_ops, .about = {
		.tunable = true, .rate_hz = FAKE_RATE, .start_us = utc_us, .virtual_clock = true } };
	struct run_row run = { .start_us = utc_us, .rate_hz = FAKE_RATE, .dwell_us = 20000 };
	volatile sig_atomic_t stop = 0;
	struct progress progress = { 0 };
	struct outing o = { 0 };
	struct station station;
	struct hop_plan hops;

	if (!besides->file_stays)
		empty_place(p);
	assert_int_equal(station_read(NULL, &station, &o.why), 0);
	station.warm_up_us = 0;
	station.track = false;
	station.commit_us = SECOND;
	station.park_share = besides->park_share;
	station.park_us = PARK_US;
	assert_int_equal(hop_plan_sweep(&hops, outing_bands, BANDS, FAKE_RATE), 0);
	assert_int_equal(hops.n, BANDS);
	assert_int_equal(failing_disk_install(&disk), 0);
	o.fake = fake_create(script, utc_us, &hops, &stop);
	o.fake->disk = &disk;
	source.source = o.fake;
	struct survey *survey = survey_write(p->path, &run, outing_bands, BANDS, &o.why);
	assert_non_null(survey);
	struct watch n = {
		.sources = &source, .n_sources = 1, .station = &station,
		.bands = outing_bands, .n_bands = BANDS, .hops = &hops, .survey = survey, .run = run.id,
		.for_us = (int64_t)(for_s * 1e6), .stop = &stop, .progress = &progress,
		.room = besides->room, .limit_bytes = besides->limit_bytes,
		.until_us = besides->until_us,
	};
	o.result = watch_run(&n, &o.why);
	disk.fail_at = 0;
	survey_close(survey);
	failing_disk_remove(&disk);
	o.seen = see_all(p->path);
	add_up(&o);
	struct fault why = o.why;
	read_strips(&o, p->path);
	o.why = why;
	hop_plan_free(&hops);
	station_free(&station);
	return o;
}

struct outing go(const struct place *p, const struct script *script, int64_t utc_us,
			double for_s)
{
	return go_with(p, script, utc_us, for_s, &(struct besides){ 0 });
}
