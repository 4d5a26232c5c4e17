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

#include "tests/spy_town.h"
#include "tests/whole_night.h"

#define OVERS_SEEN 5            /* looked at, after which an emitter must be in the list */
#define PAIR_OVERS 10           /* of an input, after which its pair must be told        */
#define COVERAGE   0.90         /* of 95 % intervals that must hold the truth            */

#ifdef __SANITIZE_ADDRESS__     /* five times slower: fewer looks, the same claims       */
#define VOICES  5               /* at least so many must have been there to judge        */
#define SCANNED 10
#define JUDGED  20
#define RULED   3
#else
#define VOICES  20
#define SCANNED 15
#define JUDGED  30
#define RULED   20
#endif

/* ---- claims ---- */

static void voices_are_listed_where_they_are(void **state)
{
	struct whole_night *w = *state;
	char text[FREQ_TEXT];
	int judged = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		int met = night_is_voice(e) ? night_overs_met(w, i) : 0;
		if (met < OVERS_SEEN)
			continue;
		judged++;
		if (night_row(w, e) < 0)
			fail_msg("seed %d: %s on %s: %d overs were looked at, but it is not listed", NIGHT_SEED,
				 e->name, freq_format_mhz(text, e->frequency), met);
	}
	print_message("voices with %d overs or more looked at, all listed: %d\n", OVERS_SEEN, judged);
	assert_in_range(judged, VOICES, 60);
}

static void nothing_false_is_scanned(void **state)
{
	struct whole_night *w = *state;
	int rows = csv_count(w->plan), scanned = 0;

	for (int i = 0; i < rows; i++) {
		if (strcmp(csv_cell(w->plan, i, "locked"), "no") != 0)
			continue;
		double hz = csv_number(w->plan, i, "frequency_hz");
		scanned++;
		for (int k = 0; k < w->town.n_emitters; k++) {
			const struct emitter *e = &w->town.emitters[k];
			double reach = e->role == SENDER_NOISE ? e->wander_hz + 6250 : 6250;
			/* Birdies follow the dongle's crystal, which the survey corrects for. */
			double at = freq_to_hz(e->frequency) *
				(e->role == SENDER_BIRDIE ? 1 + w->town.crystal_ppm * 1e-6 : 1);
			if (e->role != SENDER_EMITTER && fabs(hz - at) < reach)
				fail_msg("seed %d: %s is in bank %s slot %s", NIGHT_SEED, e->name,
					 csv_cell(w->plan, i, "bank"), csv_cell(w->plan, i, "slot"));
		}
	}
	print_message("memories scanned: %d of %d\n", scanned, rows);
	assert_in_range(scanned, SCANNED, 400);
}

/* A ruling hits or clears whoever is on its channel. */
static int check_ruling(void *self, const struct artefact_row *r)
{
	struct whole_night *w = self;
	double hz = freq_to_hz(raster_centre(&w->bands[r->band].raster, r->channel));

	for (int k = 0; k < w->town.n_emitters; k++) {
		const struct emitter *e = &w->town.emitters[k];
		bool inside = e->role == SENDER_BIRDIE || e->role == SENDER_GHOST;
		if (fabs(hz - freq_to_hz(e->frequency)) < 2000 &&
		    inside != (strcmp(r->cause, CAUSE_REAL) != 0))
			fail_msg("seed %d: %s is called %s: %s", NIGHT_SEED, e->name, r->cause, r->text);
	}
	w->ruled++;
	return 0;
}

static void nobody_real_is_condemned(void **state)
{
	struct whole_night *w = *state;
	struct fault why;
	struct survey *s = survey_read(night_path(w, "night.survey"), &why);

	assert_non_null(s);
	assert_int_equal(survey_each_artefact(s, check_ruling, w, &why), 0);
	survey_close(s);
	print_message("lines put to the proof and ruled on: %d\n", w->ruled);
	assert_true(w->ruled >= RULED);
}

static void scanned_memories_are_voices(void **state)
{
	struct whole_night *w = *state;
	int rows = csv_count(w->plan), wrong = 0;

	for (int i = 0; i < rows; i++) {
		if (strcmp(csv_cell(w->plan, i, "locked"), "no") != 0)
			continue;
		double hz = csv_number(w->plan, i, "frequency_hz");
		bool voice = false;
		for (int k = 0; k < w->town.n_emitters && !voice; k++)
			voice = night_is_voice(&w->town.emitters[k]) &&
				fabs(freq_to_hz(w->town.emitters[k].frequency) - hz) < 1;
		if (!voice)
			print_message("not a voice: %s in bank %s\n", csv_cell(w->plan, i, "frequency_hz"),
				      csv_cell(w->plan, i, "bank"));
		wrong += !voice;
	}
	assert_int_equal(wrong, 0);
}

/* Share of the watch during which it was on at the squelch or more. */
static double true_occupancy(const struct whole_night *w, int emitter)
{
	const struct emitter *e = &w->town.emitters[emitter];
	double on = 0;
	int n;
	const struct over *o = night_overs(w->night, emitter, &n);

	for (int i = 0; i < n; i++) {
		int64_t a = o[i].start_us > w->from_us ? o[i].start_us : w->from_us;
		int64_t b = o[i].end_us < w->to_us ? o[i].end_us : w->to_us;
		if (b > a && night_over_snr(w, e, &o[i]) >= NIGHT_SQUELCH_DB)
			on += (double)(b - a);
	}
	return on / (double)(w->to_us - w->from_us);
}

static void intervals_hold_the_truth(void **state)
{
	struct whole_night *w = *state;
	int held = 0, judged = 0;

	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		int row = e->role == SENDER_EMITTER ? night_row(w, e) : -1;
		if (row < 0)
			continue;
		double truth = true_occupancy(w, i);
		double low = csv_number(w->channels, row, "occupancy_low");
		double high = csv_number(w->channels, row, "occupancy_high");
		judged++;
		held += truth >= low - 1e-9 && truth <= high + 1e-9;
		if (truth < low || truth > high)
			print_message("%s: true %.3f %%, said %.3f to %.3f %%\n", e->name, 100 * truth,
				      100 * low, 100 * high);
	}
	print_message("intervals that hold the truth: %d of %d\n", held, judged);
	assert_in_range(judged, JUDGED, 100);
	if (held < COVERAGE * judged)
		fail_msg("seed %d: only %d of %d intervals hold the truth", NIGHT_SEED, held, judged);
}

/* Every band of the town is surveyed on a raster that has all its channels. */
static void no_raster_is_called_wrong(void **state)
{
	struct whole_night *w = *state;
	char more[512];

	snprintf(more, sizeof more, "--csv >%s", night_path(w, "rasters.csv"));
	struct csv_rows *rows = night_told(w, "rasters", more, "rasters.csv");
	assert_int_equal(csv_count(rows), w->n_bands);
	bool sure = false;
	for (int i = 0; i < csv_count(rows); i++) {
		const char *verdict = csv_cell(rows, i, "verdict");
		if (strcmp(verdict, "WRONG") == 0)
			fail_msg("%s: %s kHz is called wrong, seed %d", csv_cell(rows, i, "band"),
				 csv_cell(rows, i, "surveyed_step_hz"), NIGHT_SEED);
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
	struct whole_night *w = *state;
	int n = csv_count(w->channels), told = 0, judged = 0;

	for (int i = 0; i < n; i++) {
		const char *words = csv_cell(w->channels, i, "pair");
		told += words[0] != '\0';
		if (words[0] && !true_pair(&w->town, words))
			fail_msg("seed %d: no pair: %s", NIGHT_SEED, words);
	}
	for (int i = 0; i < w->town.n_emitters; i++) {
		const struct emitter *e = &w->town.emitters[i];
		int row = partner_of(&w->town, i) >= 0 ? night_row(w, e) : -1;
		if (row < 0 || csv_number(w->channels, row, "overs") < PAIR_OVERS)
			continue;
		judged++;
		if (!csv_cell(w->channels, row, "pair")[0])
			fail_msg("seed %d: %s, %s overs, has no pair", NIGHT_SEED, e->name,
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
	return cmocka_run_group_tests(tests, whole_night_set_up, whole_night_tear_down);
}
