#include "tests/whole_night.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/challenge.h"
#include "tests/spy_town.h"
#include "tests/test.h"

#ifdef __SANITIZE_ADDRESS__
#define REST_US INT64_C(600000000)
#else
#define REST_US INT64_C(90000000)
#endif

char *night_path(const struct whole_night *w, const char *name)
{
	static char path[2][128];
	static int turn;
	turn = !turn;
	snprintf(path[turn], sizeof path[turn], "%s/%s", w->folder, name);
	return path[turn];
}

static void survey_night(struct whole_night *w)
{
	struct fault why = { 0 };
	const struct source_ops ops = spy_town(w->town.start_us);
	struct source_request request = { .arg = SOURCE_ROOT "/config/harlow-ferry.conf",
					  .rate_hz = 2400000, .seed = NIGHT_SEED };
	struct progress progress;
	struct run_row run = { 0 };
	volatile sig_atomic_t stop = 0;

	struct watch_source source = { .ops = &ops, .request = request,
				       .source = ops.open(&request, &why) };
	if (!source.source)
		fail_msg("%s", why.text);
	ops.about(source.source, &source.about);
	run.start_us = source.about.start_us;
	run.rate_hz = request.rate_hz;
	struct survey *s = survey_write(night_path(w, "night.survey"), &run, w->bands, w->n_bands, &why);
	if (!s)
		fail_msg("%s", why.text);
	progress_begin(&progress, 0);
	struct challenges *c = challenges_create(
		&(struct challenge_wants){ w->bands, w->n_bands, &w->hops });
	assert_non_null(c);
	const struct challenger asker = challenges_asker(c);
	const struct onlooker onlooker = challenges_onlooker(c);
	struct watch watch = {
		.sources = &source, .n_sources = 1, .station = &w->station,
		.bands = w->bands, .n_bands = w->n_bands, .hops = &w->hops, .survey = s,
		.run = run.id, .stop = &stop, .progress = &progress,
		.challenger = &asker, .onlookers = &onlooker, .n_onlookers = 1,
	};
	if (watch_run(&watch, &why) < 0)
		fail_msg("%s", why.text);
	challenges_destroy(c);
	survey_close(s);
	ops.close(source.source);
}

struct csv_rows *night_told(const struct whole_night *w, const char *verb, const char *more, const char *file)
{
	char line[1024];
	const char *program = getenv("BANDCENSUS");

	assert_non_null(program);
	snprintf(line, sizeof line, "'%s' %s '%s' %s", program, verb, night_path(w, "night.survey"), more);
	assert_int_equal(system(line), 0);
	struct csv_rows *rows = csv_open(night_path(w, file));
	assert_non_null(rows);
	return rows;
}

int whole_night_set_up(void **state)
{
	static struct whole_night w;
	struct fault why = { 0 };
	char more[512];

	*state = &w;
	strcpy(w.folder, "/tmp/bandcensus-night-XXXXXX");
	assert_non_null(mkdtemp(w.folder));
	if (town_read(SOURCE_ROOT "/config/harlow-ferry.conf", &w.town, &why) < 0 ||
	    station_read(SOURCE_ROOT "/config/harlow-ferry-night.conf", &w.station, &why) < 0 ||
	    station_bands(&w.station, SOURCE_ROOT "/config/harlow-ferry-night.conf", &w.bands,
			  &w.n_bands, &why) < 0)
		fail_msg("%s", why.text);
	w.station.rest_us = REST_US;
	w.night = night_create(&w.town, NIGHT_SEED);
	assert_non_null(w.night);
	assert_int_equal(hop_plan_sweep(&w.hops, w.bands, w.n_bands, 2400000), 0);
	survey_night(&w);
	/* The first 128 looks only teach the floor. */
	w.from_us = spy.look[128].from_us;
	w.to_us = spy.look[spy.looks - 1].to_us;
	snprintf(more, sizeof more, "--csv >%s", night_path(&w, "channels.csv"));
	w.channels = night_told(&w, "channels", more, "channels.csv");
	snprintf(more, sizeof more, "--receiver %s/config/receiver-400.conf --interests "
		 "%s/config/interests.conf --output %s", SOURCE_ROOT, SOURCE_ROOT, w.folder);
	w.plan = night_told(&w, "plan", more, "plan.csv");
	return 0;
}

int whole_night_tear_down(void **state)
{
	struct whole_night *w = *state;
	char line[128];

	csv_close(w->channels);
	csv_close(w->plan);
	hop_plan_free(&w->hops);
	free(w->bands);
	station_free(&w->station);
	night_destroy(w->night);
	town_free(&w->town);
	spy_forget();
	snprintf(line, sizeof line, "rm -rf '%s'", w->folder);
	return system(line);
}

/* ---- truth ---- */

int night_row(const struct whole_night *w, const struct emitter *e)
{
	char text[FREQ_TEXT];

	freq_format(text, e->frequency);
	return csv_row(w->channels, "frequency_hz", text);
}

struct freq night_seat(const struct whole_night *w, const struct emitter *e)
{
	for (int i = 0; i < w->hops.n; i++)
		for (int k = 0; k < w->hops.hops[i].n_spans; k++) {
			const struct span *s = &w->hops.hops[i].spans[k];
			int32_t c = raster_nearest(&w->bands[s->band].raster, e->frequency);
			if (c >= s->first && c < s->first + s->count)
				return w->hops.hops[i].centre;
		}
	return (struct freq){ 0 };
}

double night_over_snr(const struct whole_night *w, const struct emitter *e, const struct over *o)
{
	return e->level_dbm + o->level_db - town_noise_dbm(&w->town, e, o->start_us);
}

int night_overs_met(const struct whole_night *w, int emitter)
{
	const struct emitter *e = &w->town.emitters[emitter];
	struct freq seat = night_seat(w, e);
	int n, met = 0, last = -1;
	const struct over *o = night_overs(w->night, emitter, &n);

	for (int i = 128; i < spy.looks; i++) {
		const struct noted *l = &spy.look[i];
		if (l->centre.thirds != seat.thirds)
			continue;
		int k = over_after(o, n, l->from_us);
		if (k < n && k != last && o[k].start_us < l->to_us && night_over_snr(w, e, &o[k]) >= NIGHT_SQUELCH_DB) {
			met++;
			last = k;
		}
	}
	return met;
}

bool night_is_voice(const struct emitter *e)
{
	return e->role == SENDER_EMITTER && (e->kind == KIND_AM || e->kind == KIND_NFM);
}
