/* A stretch of the town's night twice: once as the town's own source makes it, once by
 * way of an emulated dongle's tuner, transfers and registers, the real library and the
 * process that reads it. Same town, same seed: both surveys must tell the same.
 *
 * They looked at other moments, so an over here and there is in one alone. Who may
 * be missing is said by the truth: RHYTHMS watches of the same rhythm, begun at other
 * moments, tell how often a survey of that length meets somebody at all.
 *
 *   required   whoever each of them met in two spells or more, and all birdies: in both, called
 *              suspect alike, and if planned then in the same service's bank, scanned or not
 *   alike      what is in both has one frequency; kinds that are sure, occupancy, offset
 *              and level agree
 *   nobody's   what is in one alone is somebody's whom some of them missed
 *
 * BANDCENSUS_SEAM_NIGHT="690 min" goes through the whole night instead; past its end at 08:00
 * nobody sends. */
#include "tests/test.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/town/night.h"
#include "store/station.h"
#include "store/survey.h"
#include "tests/csv_rows.h"
#include "tests/dongle_watch.h"
#include "tests/rhythm.h"

#define CONFIG     SOURCE_ROOT "/config/"
#define SETTINGS   CONFIG "harlow-ferry-night.conf"
#define SEED       1
#define SURE       0.9          /* kinds are sure from there on                    */
#define LOOK_DB    1.5          /* speech and music move the level of a look so far, one sigma */
#define SEVERAL    3            /* overs, before their medians are compared        */
#define FLUKE_DB   10.0         /* seen once, hardly over the noise: a skirt, or chance, ... */
#define FLUKES     12           /* ... and there are so many in a survey           */

#define EDGE_US    INT64_C(60000000)    /* learning the passband, and the crystal */
#define WHOLE_US   INT64_C(36000000000) /* from here on it is a night              */

#ifdef __SANITIZE_ADDRESS__     /* five times slower */
#define LENGTH   "12 min"
#define REQUIRED 10             /* at least so many must have been there to judge */
#define PLANNED  2
#define BIRDIES  0
#else
#define LENGTH   "60 min"
#define REQUIRED 20
#define PLANNED  8
#define BIRDIES  4
#endif

enum { TOWN = 0, SEAM, SURVEYS };

struct nights {
	char             folder[64];
	struct town      town;
	struct night    *night;
	struct truth     truth;
	struct csv_rows *channels[SURVEYS], *plan[SURVEYS];
	struct counters  count;
};

/* ---- two surveys ---- */

static void run(const char *format, ...)
{
	char line[2048];
	va_list args;

	va_start(args, format);
	vsnprintf(line, sizeof line, format, args);
	va_end(args);
	if (system(line) != 0)
		fail_msg("%s", line);
}

static void read_survey(struct nights *n, int which, const char *name)
{
	const char *tools = getenv("BANDCENSUS"), *f = n->folder;
	char path[128];

	assert_non_null(tools);
	run("'%s' channels %s/%s --csv >%s/%s.csv", tools, f, name, f, name);
	snprintf(path, sizeof path, "%s/%s.csv", f, name);
	n->channels[which] = csv_open(path);
	run("mkdir %s/%s.plan; '%s' plan %s/%s --receiver " CONFIG "receiver-400.conf --interests "
	    CONFIG "interests.conf --output %s/%s.plan", f, name, tools, f, name, f, name);
	snprintf(path, sizeof path, "%s/%s.plan/plan.csv", f, name);
	n->plan[which] = csv_open(path);
	assert_true(n->channels[which] && n->plan[which]);
}

static int set_up(void **state)
{
	struct nights *n = calloc(1, sizeof *n);
	const char *length = getenv("BANDCENSUS_SEAM_NIGHT"), *daemon = getenv("BANDCENSUSD");
	struct station station;
	struct fault why;
	char survey[128];

	*state = n;
	assert_true(n && daemon);
	length = length ? length : LENGTH;
	strcpy(n->folder, "/tmp/bandcensus-seam-XXXXXX");
	assert_non_null(mkdtemp(n->folder));
	if (town_read(CONFIG "harlow-ferry.conf", &n->town, &why) < 0 ||
	    station_read(SETTINGS, &station, &why) < 0)
		fail_msg("%s", why.text);
	n->night = night_create(&n->town, SEED);
	assert_non_null(n->night);
	n->truth.from_us = station.warm_up_us + EDGE_US;
	n->truth.to_us = n->truth.from_us + (int64_t)(strtod(length, NULL) * 60e6) - 2 * EDGE_US;
	if (n->truth.to_us > n->town.length_us)
		n->truth.to_us = n->town.length_us;
	n->truth.night = n->night;
	station_free(&station);

	run("'%s' --config " SETTINGS " --source town:" CONFIG "harlow-ferry.conf --seed %d "
	    "--survey %s/town --for '%s' 2>%s/town.log", daemon, SEED, n->folder, length, n->folder);
	struct scenario dongle = dongle_in_town(CONFIG "harlow-ferry.conf", &n->town, SEED);
	snprintf(survey, sizeof survey, "%s/seam", n->folder);
	dongle_watch(&dongle, SETTINGS, survey, length, &n->count);
	read_survey(n, TOWN, "town");
	read_survey(n, SEAM, "seam");
	return 0;
}

static int tear_down(void **state)
{
	struct nights *n = *state;

	for (int i = 0; i < SURVEYS; i++) {
		csv_close(n->channels[i]);
		csv_close(n->plan[i]);
	}
	night_destroy(n->night);
	town_free(&n->town);
	if (!getenv("BANDCENSUS_SEAM_KEEP"))
		run("rm -rf '%s'", n->folder);
	else
		print_message("kept: %s\n", n->folder);
	free(n);
	return 0;
}

/* ---- rows ---- */

static double row_hz(const struct csv_rows *c, int row)
{
	return csv_number(c, row, "frequency_hz");
}

/* ---- truth ---- */

/* Its own row, a birdie's nearest; -1: none. */
static int row_for(const struct nights *n, int which, const struct emitter *e)
{
	char text[FREQ_TEXT];

	freq_format(text, e->frequency);
	return e->role == SENDER_BIRDIE
		? csv_near(n->channels[which], "frequency_hz", truth_hz(&n->truth, e), TRUTH_BIRDIE_HZ)
		: csv_row(n->channels[which], "frequency_hz", text);
}

/* ---- claims ---- */

static void whoever_must_be_is_in_both(void **state)
{
	const struct nights *n = *state;
	int required = 0;

	for (int i = 0; i < n->town.n_emitters; i++) {
		const struct emitter *e = &n->town.emitters[i];
		if (!truth_requires(&n->truth, e))
			continue;
		required++;
		int a = row_for(n, TOWN, e), b = row_for(n, SEAM, e);
		if (a < 0 || b < 0)
			fail_msg("%s is not in the %s's survey (seed %d)", e->name, a < 0 ? "town" : "dongle",
				 SEED);
		const char *one = csv_cell(n->channels[TOWN], a, "suspect");
		const char *other = csv_cell(n->channels[SEAM], b, "suspect");
		/* Its trials wait for overs: found out or not yet, and by which rule. In a short
		 * night birdies wait for their turn, too. */
		bool waits = e->role == SENDER_GHOST || (e->role == SENDER_BIRDIE && BIRDIES == 0);
		if (waits)
			print_message("%s: suspect for \"%s\", \"%s\"\n", e->name, one, other);
		else if (strcmp(one, other) != 0)
			fail_msg("%s: suspect for \"%s\" or \"%s\"", e->name, one, other);
	}
	print_message("required, and in both: %d\n", required);
	assert_in_range(required, REQUIRED, 200);
}

/* Seen once, weakly. */
static bool is_fluke(const struct csv_rows *c, int row)
{
	return csv_number(c, row, "overs") <= 1 && csv_number(c, row, "level_db") <= FLUKE_DB;
}

static void nobodys_channel_is_in_one_alone(void **state)
{
	const struct nights *n = *state;

	for (int k = 0; k < SURVEYS; k++) {
		const struct csv_rows *here = n->channels[k], *there = n->channels[!k];
		int flukes = 0;
		for (int i = 0; i < csv_count(here); i++) {
			double hz = row_hz(here, i);
			if (csv_row(there, "frequency_hz", csv_cell(here, i, "frequency_hz")) >= 0)
				continue;
			const struct emitter *e = truth_sender(&n->truth, hz);
			if (!e && is_fluke(here, i) && flukes++ < FLUKES) {
				print_message("%.6f MHz: in the %s's alone, once and weakly: %s\n", hz / 1e6,
					      k == TOWN ? "town" : "dongle", truth_strong(&n->truth, hz) ?
					      "the skirt of somebody strong" : "a false alarm");
				continue;
			}
			if (!e)
				fail_msg("%.6f MHz: only in the %s's survey, and nobody's (seed %d)", hz / 1e6,
					 k == TOWN ? "town" : "dongle", SEED);
			struct met m = truth_met(&n->truth, e);
			bool own = fabs(truth_hz(&n->truth, e) - hz) < 1;
			print_message("%.6f MHz, %s: in the %s's alone, with %s over(s): %s, %.0f %% of such "
				      "watches meet none\n", hz / 1e6, e->name, k == TOWN ? "town" : "dongle",
				      csv_cell(here, i, "overs"), e->role == SENDER_NOISE ? "it wanders" :
				      own ? "rare" : "beside its channel", 100 * m.missed);
		}
	}
}

/* Four sigma between the medians of a and b overs, each sigma off by itself; a median
 * spreads 1.25 times as far as a mean (normal distribution). */
static double bound(double sigma, double a, double b)
{
	return 4 * 1.25 * sigma * sqrt(1 / a + 1 / b);
}

static void compare(const struct nights *n, const char *frequency, int i, int k)
{
	const struct csv_rows *a = n->channels[TOWN], *b = n->channels[SEAM];
	double overs[SURVEYS] = { csv_number(a, i, "overs"), csv_number(b, k, "overs") };
	bool sure = csv_number(a, i, "confidence") >= SURE && csv_number(b, k, "confidence") >= SURE;
	double hz = row_hz(a, i);
	const struct emitter *e = truth_sender(&n->truth, hz);

	if (sure && strcmp(csv_cell(a, i, "kind"), csv_cell(b, k, "kind")) != 0)
		fail_msg("%s: %s at the town, %s at the dongle", frequency, csv_cell(a, i, "kind"),
			 csv_cell(b, k, "kind"));
	if (csv_number(a, i, "occupancy_low") > csv_number(b, k, "occupancy_high") ||
	    csv_number(b, k, "occupancy_low") > csv_number(a, i, "occupancy_high"))
		fail_msg("%s: busy for %.4f or %.4f of the time", frequency,
			 csv_number(a, i, "occupancy"), csv_number(b, k, "occupancy"));
	if (overs[TOWN] < SEVERAL || overs[SEAM] < SEVERAL || !e || e->role == SENDER_NOISE)
		return;
	/* The crystal is known to some tenths of a ppm, to each in its own way; a look holds
	 * some dozen symbols or syllables, whose mean is a tenth of the width off. */
	double offset = fabs(csv_number(a, i, "offset_hz") - csv_number(b, k, "offset_hz"));
	double sigma = csv_number(a, i, "width_hz") / 10;
	if (offset > 100 + 0.7e-6 * hz + bound(sigma, overs[TOWN], overs[SEAM]))
		fail_msg("%s: %s Hz off its channel, or %s", frequency, csv_cell(a, i, "offset_hz"),
			 csv_cell(b, k, "offset_hz"));
	double level = fabs(csv_number(a, i, "level_db") - csv_number(b, k, "level_db"));
	if (level > 1 + bound(hypot(e->spread_db, LOOK_DB), overs[TOWN], overs[SEAM]))
		fail_msg("%s: %s dB, or %s", frequency, csv_cell(a, i, "level_db"),
			 csv_cell(b, k, "level_db"));
}

static void what_is_in_both_is_alike(void **state)
{
	const struct nights *n = *state;
	const struct csv_rows *a = n->channels[TOWN], *b = n->channels[SEAM];
	int both = 0, kinds = 0;

	for (int i = 0; i < csv_count(a); i++) {
		const char *frequency = csv_cell(a, i, "frequency_hz");
		int k = csv_row(b, "frequency_hz", frequency);
		if (k < 0)
			continue;
		compare(n, frequency, i, k);
		both++;
		kinds += csv_number(a, i, "confidence") >= SURE && csv_number(b, k, "confidence") >= SURE;
	}
	print_message("channels: %d at the town, %d at the dongle, %d in both, the kind of %d sure in both\n",
		      csv_count(a), csv_count(b), both, kinds);
	assert_in_range(both, REQUIRED, 1000);
}

/* Banks are numbered as they fill, so it is whose they are that counts. */
static bool placed_alike(const struct csv_rows *a, int i, const struct csv_rows *b, int k)
{
	static const char *const columns[] = { "service", "locked", "mode", "landed_hz" };

	for (size_t c = 0; c < sizeof columns / sizeof columns[0]; c++)
		if (strcmp(csv_cell(a, i, columns[c]), csv_cell(b, k, columns[c])) != 0)
			return false;
	return true;
}

static void plans_place_them_alike(void **state)
{
	const struct nights *n = *state;
	const struct csv_rows *a = n->plan[TOWN], *b = n->plan[SEAM];
	int both = 0;

	for (int i = 0; i < csv_count(a); i++) {
		const char *frequency = csv_cell(a, i, "frequency_hz");
		int k = csv_row(b, "frequency_hz", frequency);
		if (k < 0)
			continue;
		both++;
		if (placed_alike(a, i, b, k))
			continue;
		const struct emitter *e = truth_sender(&n->truth, row_hz(a, i));
		print_message("%s, %s: locked %s with %s; locked %s with %s\n", frequency, e ? e->name : "?",
			      csv_cell(a, i, "locked"), csv_cell(a, i, "evidence"),
			      csv_cell(b, k, "locked"), csv_cell(b, k, "evidence"));
		if (!e || truth_requires(&n->truth, e))
			fail_msg("%s is not placed alike", frequency);
	}
	print_message("memories: %d for the town, %d for the dongle, %d in both\n", csv_count(a),
		      csv_count(b), both);
	assert_true(both >= PLANNED);
}

struct rulings {
	const struct nights *n;
	const struct band   *bands;
	int                  birdies, products, real;
};

/* A ruling hits or clears whoever is on its channel. */
static int check_ruling(void *self, const struct artefact_row *r)
{
	struct rulings *w = self;
	double hz = freq_to_hz(raster_centre(&w->bands[r->band].raster, r->channel));
	const struct emitter *e = truth_sender(&w->n->truth, hz);
	bool real = strcmp(r->cause, CAUSE_REAL) == 0;
	bool inside = e && (e->role == SENDER_BIRDIE || e->role == SENDER_GHOST);

	if (!real)
		print_message("%.4f MHz is a %s: %s\n", hz / 1e6, r->cause, r->text);
	if (!real && !inside)
		fail_msg("%.4f MHz is called %s, but it is %s's: %s (seed %d)", hz / 1e6, r->cause,
			 e ? e->name : "nobody", r->text, SEED);
	w->real += real;
	w->birdies += strcmp(r->cause, "birdie") == 0;
	w->products += strcmp(r->cause, "product") == 0;
	return 0;
}

/* By way of the dongle. The ghost of two pagers takes the night, and luck: its five trials
 * are to meet both of them. */
static void the_tuners_own_is_found_out_and_nobody_else(void **state)
{
	const struct nights *n = *state;
	struct rulings w = { .n = n };
	struct fault why;
	char path[128];

	snprintf(path, sizeof path, "%s/seam", n->folder);
	struct survey *s = survey_read(path, &why);
	if (!s || survey_bands(s, &w.bands) <= 0 || survey_each_artefact(s, check_ruling, &w, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(s);
	print_message("found out: %d birdies and %d products; cleared: %d\n", w.birdies, w.products, w.real);
	assert_true(w.birdies >= BIRDIES);
	if (n->truth.to_us - n->truth.from_us > WHOLE_US)
		assert_in_range(w.products, 1, 2);
}

/* Nothing fell out between the cable and the survey. */
static void the_cable_lost_nothing(void **state)
{
	const struct nights *n = *state;

	print_message("by the cable: %.0f MB, of them not worked out %.0f MB\n",
		      (double)n->count.bytes * 1e-6, (double)n->count.skipped_bytes * 1e-6);
	assert_int_equal(n->count.freed_in_flight, 0);
	assert_true(n->count.bytes > 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(whoever_must_be_is_in_both),
		cmocka_unit_test(nobodys_channel_is_in_one_alone),
		cmocka_unit_test(what_is_in_both_is_alike),
		cmocka_unit_test(plans_place_them_alike),
		cmocka_unit_test(the_tuners_own_is_found_out_and_nobody_else),
		cmocka_unit_test(the_cable_lost_nothing),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
