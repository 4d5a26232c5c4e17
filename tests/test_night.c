/* A whole night in the invented town, judged against the truth it was made from:
 * surveyed by the daemon's own watch through a source that notes every look, then
 * read with the built bandcensus as a user would. */
#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/challenge.h"
#include "daemon/town/night.h"
#include "daemon/watch.h"
#include "tests/csv_rows.h"
#include "tests/spy_town.h"

#define SEED       20260217
#define SQUELCH_DB 6.0
#define OVERS_SEEN 5            /* looked at, after which an emitter must be in the list */
#define PAIR_OVERS 10           /* of an input, after which its pair must be told        */
#define COVERAGE   0.90         /* of 95 % intervals that must hold the truth            */

#ifdef __SANITIZE_ADDRESS__     /* five times slower: fewer looks, the same claims       */
#define REST_US INT64_C(600000000)
#define VOICES  5               /* at least so many must have been there to judge        */
#define SCANNED 10
#define JUDGED  20
#define RULED   3
#else
#define REST_US INT64_C(90000000)
#define VOICES  20
#define SCANNED 15
#define JUDGED  30
#define RULED   20
#endif

/* ---- the night ---- */

struct world {
	char             folder[64];
	struct town      town;
	struct night    *night;
	struct station   station;
	struct band     *bands;
	int              n_bands;
	struct hop_plan  hops;
	int64_t          from_us, to_us;        /* first look to last, town's clock */
	struct csv_rows *channels, *plan;
	int              ruled;
};

static char *in(const struct world *w, const char *name)
{
	static char path[2][128];
	static int turn;
	turn = !turn;
	snprintf(path[turn], sizeof path[turn], "%s/%s", w->folder, name);
	return path[turn];
}

static void survey_night(struct world *w)
{
	struct fault why = { 0 };
	const struct source_ops ops = spy_town(w->town.start_us);
	struct source_request request = { .arg = SOURCE_ROOT "/config/harlow-ferry.conf",
					  .rate_hz = 2400000, .seed = SEED };
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
	struct survey *s = survey_write(in(w, "night.survey"), &run, w->bands, w->n_bands, &why);
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

static struct csv_rows *told(struct world *w, const char *verb, const char *more, const char *file)
{
	char line[1024];
	const char *program = getenv("BANDCENSUS");

	assert_non_null(program);
	snprintf(line, sizeof line, "'%s' %s '%s' %s", program, verb, in(w, "night.survey"), more);
	assert_int_equal(system(line), 0);
	struct csv_rows *rows = csv_open(in(w, file));
	assert_non_null(rows);
	return rows;
}

static int set_up(void **state)
{
	static struct world w;
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
	w.night = night_create(&w.town, SEED);
	assert_non_null(w.night);
	assert_int_equal(hop_plan_sweep(&w.hops, w.bands, w.n_bands, 2400000), 0);
	survey_night(&w);
	/* The first 128 looks only teach the floor. */
	w.from_us = spy.look[128].from_us;
	w.to_us = spy.look[spy.looks - 1].to_us;
	snprintf(more, sizeof more, "--csv >%s", in(&w, "channels.csv"));
	w.channels = told(&w, "channels", more, "channels.csv");
	snprintf(more, sizeof more, "--receiver %s/config/receiver-400.conf --interests "
		 "%s/config/interests.conf --output %s", SOURCE_ROOT, SOURCE_ROOT, w.folder);
	w.plan = told(&w, "plan", more, "plan.csv");
	return 0;
}

static int tear_down(void **state)
{
	struct world *w = *state;
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

static double number(const struct csv_rows *c, int row, const char *column)
{
	const char *cell = csv_cell(c, row, column);
	if (!cell)
		fail_msg("there is no column %s", column);
	return strtod(cell, NULL);
}

static int row_of(const struct csv_rows *c, struct freq f)
{
	char text[FREQ_TEXT];
	int n = csv_count(c);

	freq_format(text, f);
	for (int i = 0; i < n; i++)
		if (strcmp(csv_cell(c, i, "frequency_hz"), text) == 0)
			return i;
	return -1;
}

/* The centre from which the emitter's channel is judged; thirds 0: from none. */
static struct freq seat_of(const struct world *w, const struct emitter *e)
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

static double over_snr(const struct world *w, const struct emitter *e, const struct over *o)
{
	return e->level_dbm + o->level_db - town_noise_dbm(&w->town, e, o->start_us);
}

/* Overs of an emitter, at the squelch or more, that a look at its channel met. */
static int overs_met(const struct world *w, int emitter)
{
	const struct emitter *e = &w->town.emitters[emitter];
	struct freq seat = seat_of(w, e);
	int n, met = 0, last = -1;
	const struct over *o = night_overs(w->night, emitter, &n);

	for (int i = 128; i < spy.looks; i++) {
		const struct noted *l = &spy.look[i];
		if (l->centre.thirds != seat.thirds)
			continue;
		int k = over_after(o, n, l->from_us);
		if (k < n && k != last && o[k].start_us < l->to_us && over_snr(w, e, &o[k]) >= SQUELCH_DB) {
			met++;
			last = k;
		}
	}
	return met;
}

static bool is_voice(const struct emitter *e)
{
	return e->role == SENDER_EMITTER && (e->kind == KIND_AM || e->kind == KIND_NFM);
}

/* ---- claims ---- */

static void voices_are_listed_where_they_are(void **state)
{
	struct world *w = *state;
	char text[FREQ_TEXT];
	int judged = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		int met = is_voice(e) ? overs_met(w, i) : 0;
		if (met < OVERS_SEEN)
			continue;
		judged++;
		if (row_of(w->channels, e->frequency) < 0)
			fail_msg("seed %d: %s on %s: %d overs were looked at, but it is not listed", SEED,
				 e->name, freq_format_mhz(text, e->frequency), met);
	}
	print_message("voices with %d overs or more looked at, all listed: %d\n", OVERS_SEEN, judged);
	assert_in_range(judged, VOICES, 60);
}

static void nothing_false_is_scanned(void **state)
{
	struct world *w = *state;
	int rows = csv_count(w->plan), scanned = 0;

	for (int i = 0; i < rows; i++) {
		if (strcmp(csv_cell(w->plan, i, "locked"), "no") != 0)
			continue;
		double hz = number(w->plan, i, "frequency_hz");
		scanned++;
		for (int k = 0; k < w->town.n_emitters; k++) {
			const struct emitter *e = &w->town.emitters[k];
			double reach = e->role == SENDER_NOISE ? e->wander_hz + 6250 : 6250;
			/* Birdies follow the dongle's crystal, which the survey corrects for. */
			double at = freq_to_hz(e->frequency) *
				(e->role == SENDER_BIRDIE ? 1 + w->town.crystal_ppm * 1e-6 : 1);
			if (e->role != SENDER_EMITTER && fabs(hz - at) < reach)
				fail_msg("seed %d: %s is in bank %s slot %s", SEED, e->name,
					 csv_cell(w->plan, i, "bank"), csv_cell(w->plan, i, "slot"));
		}
	}
	print_message("memories scanned: %d of %d\n", scanned, rows);
	assert_in_range(scanned, SCANNED, 400);
}

/* A ruling hits or clears whoever is on its channel. */
static int check_ruling(void *self, const struct artefact_row *r)
{
	struct world *w = self;
	double hz = freq_to_hz(raster_centre(&w->bands[r->band].raster, r->channel));

	for (int k = 0; k < w->town.n_emitters; k++) {
		const struct emitter *e = &w->town.emitters[k];
		bool inside = e->role == SENDER_BIRDIE || e->role == SENDER_GHOST;
		if (fabs(hz - freq_to_hz(e->frequency)) < 2000 &&
		    inside != (strcmp(r->cause, CAUSE_REAL) != 0))
			fail_msg("seed %d: %s is called %s: %s", SEED, e->name, r->cause, r->text);
	}
	w->ruled++;
	return 0;
}

static void nobody_real_is_condemned(void **state)
{
	struct world *w = *state;
	struct fault why;
	struct survey *s = survey_read(in(w, "night.survey"), &why);

	assert_non_null(s);
	assert_int_equal(survey_each_artefact(s, check_ruling, w, &why), 0);
	survey_close(s);
	print_message("lines put to the proof and ruled on: %d\n", w->ruled);
	assert_true(w->ruled >= RULED);
}

static void scanned_memories_are_voices(void **state)
{
	struct world *w = *state;
	int rows = csv_count(w->plan), wrong = 0;

	for (int i = 0; i < rows; i++) {
		if (strcmp(csv_cell(w->plan, i, "locked"), "no") != 0)
			continue;
		double hz = number(w->plan, i, "frequency_hz");
		bool voice = false;
		for (int k = 0; k < w->town.n_emitters && !voice; k++)
			voice = is_voice(&w->town.emitters[k]) &&
				fabs(freq_to_hz(w->town.emitters[k].frequency) - hz) < 1;
		if (!voice)
			print_message("not a voice: %s in bank %s\n", csv_cell(w->plan, i, "frequency_hz"),
				      csv_cell(w->plan, i, "bank"));
		wrong += !voice;
	}
	assert_int_equal(wrong, 0);
}

/* Share of the watch during which it was on at the squelch or more. */
static double true_occupancy(const struct world *w, int emitter)
{
	const struct emitter *e = &w->town.emitters[emitter];
	double on = 0;
	int n;
	const struct over *o = night_overs(w->night, emitter, &n);

	for (int i = 0; i < n; i++) {
		int64_t a = o[i].start_us > w->from_us ? o[i].start_us : w->from_us;
		int64_t b = o[i].end_us < w->to_us ? o[i].end_us : w->to_us;
		if (b > a && over_snr(w, e, &o[i]) >= SQUELCH_DB)
			on += (double)(b - a);
	}
	return on / (double)(w->to_us - w->from_us);
}

static void intervals_hold_the_truth(void **state)
{
	struct world *w = *state;
	int held = 0, judged = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		int row = e->role == SENDER_EMITTER ? row_of(w->channels, e->frequency) : -1;
		if (row < 0)
			continue;
		double truth = true_occupancy(w, i);
		double low = number(w->channels, row, "occupancy_low");
		double high = number(w->channels, row, "occupancy_high");
		judged++;
		held += truth >= low - 1e-9 && truth <= high + 1e-9;
		if (truth < low || truth > high)
			print_message("%s: true %.3f %%, said %.3f to %.3f %%\n", e->name, 100 * truth,
				      100 * low, 100 * high);
	}
	print_message("intervals that hold the truth: %d of %d\n", held, judged);
	assert_in_range(judged, JUDGED, 100);
	if (held < COVERAGE * judged)
		fail_msg("seed %d: only %d of %d intervals hold the truth", SEED, held, judged);
}

/* Every band of the town is surveyed on a raster that has all its channels. */
static void no_raster_is_called_wrong(void **state)
{
	struct world *w = *state;
	char more[512];

	snprintf(more, sizeof more, "--csv >%s", in(w, "rasters.csv"));
	struct csv_rows *rows = told(w, "rasters", more, "rasters.csv");
	assert_int_equal(csv_count(rows), w->n_bands);
	bool sure = false;
	for (int i = 0; i < csv_count(rows); i++) {
		const char *verdict = csv_cell(rows, i, "verdict");
		if (strcmp(verdict, "WRONG") == 0)
			fail_msg("%s: %s kHz is called wrong, seed %d", csv_cell(rows, i, "band"),
				 csv_cell(rows, i, "surveyed_step_hz"), SEED);
		sure |= strcmp(verdict, "right") == 0;
	}
	assert_true(sure);      /* of the aircraft's at least */
	csv_close(rows);
}

/* The other of a pair that the town's table has, or -1. */
static int partner_of(const struct town *t, int emitter)
{
	const struct emitter *e = &t->emitters[emitter];

	return e->role != SENDER_EMITTER ? -1 : e->parent_at >= 0 ? e->parent_at : e->answers_at;
}

/* The words name both frequencies of one. */
static bool true_pair(const struct town *t, const char *words)
{
	char one[FREQ_TEXT], other[FREQ_TEXT];

	for (int i = 0; i < t->n_emitters; i++) {
		int p = partner_of(t, i);
		if (p >= 0 && strstr(words, freq_format_mhz(one, t->emitters[i].frequency)) &&
		    strstr(words, freq_format_mhz(other, t->emitters[p].frequency)))
			return true;
	}
	return false;
}

static void pairs_are_true(void **state)
{
	struct world *w = *state;
	int n = csv_count(w->channels), told = 0, judged = 0;

	for (int i = 0; i < n; i++) {
		const char *words = csv_cell(w->channels, i, "pair");
		told += words[0] != '\0';
		if (words[0] && !true_pair(&w->town, words))
			fail_msg("seed %d: no pair: %s", SEED, words);
	}
	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		int row = partner_of(&w->town, i) >= 0 ? row_of(w->channels, e->frequency) : -1;
		if (row < 0 || number(w->channels, row, "overs") < PAIR_OVERS)
			continue;
		judged++;
		if (!csv_cell(w->channels, row, "pair")[0])
			fail_msg("seed %d: %s, %s overs, has no pair", SEED, e->name,
				 csv_cell(w->channels, row, "overs"));
	}
	print_message("channels said to be of a pair, truly: %d; inputs and sides with %d overs, all found: %d\n",
		      told, PAIR_OVERS, judged);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(voices_are_listed_where_they_are),
		cmocka_unit_test(nothing_false_is_scanned),
		cmocka_unit_test(nobody_real_is_condemned),
		cmocka_unit_test(scanned_memories_are_voices),
		cmocka_unit_test(intervals_hold_the_truth),
		cmocka_unit_test(pairs_are_true),
		cmocka_unit_test(no_raster_is_called_wrong),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
