/* A stretch of the town's night twice: once as the town's own source makes it, once by
 * way of an emulated dongle's tuner, transfers and registers, the real library and the
 * process that reads it. Same town, same seed: both surveys must tell the same.
 *
 * They looked at other moments, so an over here and there is in one alone. Who may
 * be missing is said by the truth: RHYTHMS watches of the same rhythm, begun at other
 * moments, tell how often a survey of that length meets somebody at all.
 *
 *   required   whoever each of them met twice or oftener, and all birdies: in both, called
 *              suspect alike, and if planned then in the same service's bank, scanned or not
 *   alike      what is in both has one frequency; kinds that are sure, occupancy, offset
 *              and level agree
 *   nobody's   what is in one alone is somebody's whom some of them missed
 *
 * BANDCENSUS_SEAM_NIGHT="700 min" goes through the whole night instead. */
#include "tests/test.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/town/night.h"
#include "store/station.h"
#include "tests/csv_rows.h"
#include "tests/dongle_watch.h"

#define CONFIG     SOURCE_ROOT "/config/"
#define SETTINGS   CONFIG "harlow-ferry-night.conf"
#define SEED       1
#define SQUELCH_DB 8.0          /* 2 dB over the tools' own: an over at its edge may count or not */
#define SURE       0.9          /* kinds are sure from there on                    */
#define SEVERAL    3            /* overs, before their medians are compared        */
#define NEAR_HZ    6250.0       /* an emission so near is somebody's               */
#define BIRDIE_HZ  13e3         /* half a step of the widest raster that one stands on */
#define SKIRT_HZ   100e3        /* who keys a strong carrier is seen beside it now and then, ... */
#define STRONG_DB  30.0
#define SKIRT_DB   10.0         /* ... hardly over the noise, ...                  */
#define SKIRTS     6            /* ... on so many channels of a survey             */

/* The rhythm: three sweeps, then a rest of 90 s. */
#define RHYTHMS    500
#define CYCLE_US   INT64_C(96000000)
#define SWEEP_US   INT64_C(2000000)
#define SWEEPS     3
#define LOOK_US    20000
#define EDGE_US    INT64_C(60000000)    /* learning the passband, and the crystal */

#ifdef __SANITIZE_ADDRESS__     /* five times slower */
#define LENGTH   "12 min"
#define REQUIRED 6              /* at least so many must have been there to judge */
#define PLANNED  2
#else
#define LENGTH   "60 min"
#define REQUIRED 15
#define PLANNED  8
#endif

enum { TOWN = 0, SEAM, SURVEYS };

struct nights {
	char             folder[64];
	struct town      town;
	struct night    *night;
	int64_t          from_us, to_us;        /* looked between, in the town's time */
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

static struct scenario by_dongle(const struct town *t)
{
	struct scenario s = scenario_usual();

	snprintf(s.town, sizeof s.town, CONFIG "harlow-ferry.conf");
	s.seed = SEED;
	s.town_events = s.hastens = true;
	s.dongles[0].ppm = t->crystal_ppm;
	s.dongles[0].cold_ppm = t->cold_ppm;
	s.dongles[0].warm_ppm = t->warm_ppm;
	s.dongles[0].warm_up_s = (double)t->warm_up_us * 1e-6;
	return s;
}

static int set_up(void **state)
{
	struct nights *n = calloc(1, sizeof *n);
	const char *length = getenv("BANDCENSUS_SEAM_NIGHT"), *daemon = getenv("BANDCENSUSD");
	struct station station;
	struct fault why;
	char survey[128];

	assert_true(n && daemon);
	*state = n;
	length = length ? length : LENGTH;
	strcpy(n->folder, "/tmp/bandcensus-seam-XXXXXX");
	assert_non_null(mkdtemp(n->folder));
	if (town_read(CONFIG "harlow-ferry.conf", &n->town, &why) < 0 ||
	    station_read(SETTINGS, &station, &why) < 0)
		fail_msg("%s", why.text);
	n->night = night_create(&n->town, SEED);
	assert_non_null(n->night);
	n->from_us = station.warm_up_us + EDGE_US;
	n->to_us = n->from_us + (int64_t)(strtod(length, NULL) * 60e6) - 2 * EDGE_US;
	n->to_us = n->to_us < n->town.length_us ? n->to_us : n->town.length_us;
	station_free(&station);

	run("'%s' --config " SETTINGS " --source town:" CONFIG "harlow-ferry.conf --seed %d "
	    "--survey %s/town --for '%s' 2>%s/town.log", daemon, SEED, n->folder, length, n->folder);
	struct scenario dongle = by_dongle(&n->town);
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

static double number(const struct csv_rows *c, int row, const char *column)
{
	const char *cell = csv_cell(c, row, column);
	if (!cell)
		fail_msg("there is no column %s", column);
	return strtod(cell, NULL);
}

/* "363925000/3" */
static double row_hz(const struct csv_rows *c, int row)
{
	const char *part = strchr(csv_cell(c, row, "frequency_hz"), '/');
	return number(c, row, "frequency_hz") / (part ? strtod(part + 1, NULL) : 1);
}

static int row_of(const struct csv_rows *c, const char *frequency)
{
	for (int i = 0; i < csv_count(c); i++)
		if (strcmp(csv_cell(c, i, "frequency_hz"), frequency) == 0)
			return i;
	return -1;
}

/* Where the dongle shows it: birdies count by the crystal, which is corrected for. */
static double shown_hz(const struct nights *n, const struct emitter *e)
{
	double ppm = e->role == SENDER_BIRDIE ? n->town.crystal_ppm + n->town.warm_ppm : 0;
	return freq_to_hz(e->frequency) * (1 + ppm * 1e-6);
}

/* Row nearest to it, at most within_hz away; -1: none. */
static int row_near(const struct csv_rows *c, double hz, double within_hz)
{
	int best = -1;

	for (int i = 0; i < csv_count(c); i++) {
		double off = fabs(row_hz(c, i) - hz);
		if (off <= within_hz && (best < 0 || off < fabs(row_hz(c, best) - hz)))
			best = i;
	}
	return best;
}

/* ---- truth ---- */

/* What watches of this rhythm meet of somebody. */
struct met {
	int    least;           /* overs that each of them met */
	double missed;          /* share that met none         */
};

static int met_from(const struct nights *n, const struct emitter *e, const struct over *o, int count,
		    int64_t phase_us)
{
	int met = 0, last = -1;

	for (int64_t at = n->from_us - phase_us; at < n->to_us; at += CYCLE_US)
		for (int k = 0; k < SWEEPS; k++) {
			int64_t us = at + k * SWEEP_US;
			int i = over_after(o, count, us);
			if (us < n->from_us || us >= n->to_us || i == count || i == last ||
			    o[i].start_us > us + LOOK_US / 2 || e->level_dbm + o[i].level_db -
			    town_noise_dbm(&n->town, e, us) < SQUELCH_DB)
				continue;
			last = i;
			met++;
		}
	return met;
}

static struct met met_by_others(const struct nights *n, const struct emitter *e)
{
	struct met m = { .least = 1000000 };
	int count;
	const struct over *o = night_overs(n->night, (int)(e - n->town.emitters), &count);

	for (int i = 0; i < RHYTHMS; i++) {
		int met = met_from(n, e, o, count, CYCLE_US * i / RHYTHMS);
		m.least = met < m.least ? met : m.least;
		m.missed += met == 0 ? 1.0 / RHYTHMS : 0;
	}
	return m;
}

/* Its own row, a birdie's nearest; -1: none. */
static int row_for(const struct nights *n, int which, const struct emitter *e)
{
	char text[FREQ_TEXT];

	freq_format(text, e->frequency);
	return e->role == SENDER_BIRDIE ? row_near(n->channels[which], shown_hz(n, e), BIRDIE_HZ)
					: row_of(n->channels[which], text);
}

/* Who may be behind a row: the nearest; NULL: nobody. */
static const struct emitter *sender_of(const struct nights *n, double hz)
{
	const struct emitter *best = NULL;

	for (int i = 0; i < n->town.n_emitters; i++) {
		const struct emitter *e = &n->town.emitters[i];
		double reach = e->role == SENDER_BIRDIE ? BIRDIE_HZ :
			NEAR_HZ + (e->role == SENDER_NOISE ? e->wander_hz : 0);
		double off = fabs(shown_hz(n, e) - hz);
		reach = fmax(reach, freq_to_hz(e->step) / 2);
		if (off <= fmax(reach, freq_to_hz(e->width) / 2) &&
		    (!best || off < fabs(shown_hz(n, best) - hz)))
			best = e;
	}
	return best;
}

/* Any survey of that length has it. */
static bool is_required(const struct nights *n, const struct emitter *e)
{
	return e->role != SENDER_NOISE && (e->role == SENDER_BIRDIE || met_by_others(n, e).least >= 2);
}

/* ---- claims ---- */

static void whoever_must_be_is_in_both(void **state)
{
	const struct nights *n = *state;
	int required = 0;

	for (int i = 0; i < n->town.n_emitters; i++) {
		const struct emitter *e = &n->town.emitters[i];
		if (!is_required(n, e))
			continue;
		required++;
		int a = row_for(n, TOWN, e), b = row_for(n, SEAM, e);
		if (a < 0 || b < 0)
			fail_msg("%s is not in the %s's survey (seed %d)", e->name, a < 0 ? "town" : "dongle",
				 SEED);
		const char *one = csv_cell(n->channels[TOWN], a, "suspect");
		const char *other = csv_cell(n->channels[SEAM], b, "suspect");
		if (strcmp(one, other) != 0)
			fail_msg("%s: suspect for \"%s\" or \"%s\"", e->name, one, other);
	}
	print_message("required, and in both: %d\n", required);
	assert_in_range(required, REQUIRED, 200);
}

/* Seen once, weakly, near somebody strong. */
static bool is_skirt(const struct nights *n, const struct csv_rows *c, int row)
{
	double hz = row_hz(c, row);

	if (number(c, row, "overs") > 1 || number(c, row, "level_db") > SKIRT_DB)
		return false;
	for (int i = 0; i < n->town.n_emitters; i++) {
		const struct emitter *e = &n->town.emitters[i];
		if (fabs(freq_to_hz(e->frequency) - hz) < SKIRT_HZ &&
		    e->level_dbm - n->town.noise_dbm > STRONG_DB)
			return true;
	}
	return false;
}

static void nobodys_channel_is_in_one_alone(void **state)
{
	const struct nights *n = *state;

	for (int k = 0; k < SURVEYS; k++) {
		const struct csv_rows *here = n->channels[k], *there = n->channels[!k];
		int skirts = 0;
		for (int i = 0; i < csv_count(here); i++) {
			double hz = row_hz(here, i);
			if (row_of(there, csv_cell(here, i, "frequency_hz")) >= 0)
				continue;
			const struct emitter *e = sender_of(n, hz);
			if (!e && is_skirt(n, here, i) && skirts++ < SKIRTS) {
				print_message("%.6f MHz: in the %s's alone, the skirt of somebody strong\n",
					      hz / 1e6, k == TOWN ? "town" : "dongle");
				continue;
			}
			if (!e)
				fail_msg("%.6f MHz: only in the %s's survey, and nobody's (seed %d)", hz / 1e6,
					 k == TOWN ? "town" : "dongle", SEED);
			struct met m = met_by_others(n, e);
			bool own = fabs(shown_hz(n, e) - hz) < 1;
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
	double overs[SURVEYS] = { number(a, i, "overs"), number(b, k, "overs") };
	bool sure = number(a, i, "confidence") >= SURE && number(b, k, "confidence") >= SURE;
	double hz = row_hz(a, i);
	const struct emitter *e = sender_of(n, hz);

	if (sure && strcmp(csv_cell(a, i, "kind"), csv_cell(b, k, "kind")) != 0)
		fail_msg("%s: %s at the town, %s at the dongle", frequency, csv_cell(a, i, "kind"),
			 csv_cell(b, k, "kind"));
	if (number(a, i, "occupancy_low") > number(b, k, "occupancy_high") ||
	    number(b, k, "occupancy_low") > number(a, i, "occupancy_high"))
		fail_msg("%s: busy for %.4f or %.4f of the time", frequency,
			 number(a, i, "occupancy"), number(b, k, "occupancy"));
	if (overs[TOWN] < SEVERAL || overs[SEAM] < SEVERAL || !e || e->role == SENDER_NOISE)
		return;
	/* The crystal is known to some tenths of a ppm, to each in its own way; a look holds
	 * some dozen symbols or syllables, whose mean is a tenth of the width off. */
	double offset = fabs(number(a, i, "offset_hz") - number(b, k, "offset_hz"));
	if (offset > 100 + 0.7e-6 * hz + bound(number(a, i, "width_hz") / 10, overs[TOWN], overs[SEAM]))
		fail_msg("%s: %s Hz off its channel, or %s", frequency, csv_cell(a, i, "offset_hz"),
			 csv_cell(b, k, "offset_hz"));
	double level = fabs(number(a, i, "level_db") - number(b, k, "level_db"));
	if (level > 1 + bound(e->spread_db, overs[TOWN], overs[SEAM]))
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
		int k = row_of(b, frequency);
		if (k < 0)
			continue;
		compare(n, frequency, i, k);
		both++;
		kinds += number(a, i, "confidence") >= SURE && number(b, k, "confidence") >= SURE;
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
		int k = row_of(b, frequency);
		if (k < 0)
			continue;
		both++;
		if (placed_alike(a, i, b, k))
			continue;
		const struct emitter *e = sender_of(n, row_hz(a, i));
		print_message("%s, %s: locked %s with %s; locked %s with %s\n", frequency, e ? e->name : "?",
			      csv_cell(a, i, "locked"), csv_cell(a, i, "evidence"),
			      csv_cell(b, k, "locked"), csv_cell(b, k, "evidence"));
		if (!e || is_required(n, e))
			fail_msg("%s is not placed alike", frequency);
	}
	print_message("memories: %d for the town, %d for the dongle, %d in both\n", csv_count(a),
		      csv_count(b), both);
	assert_true(both >= PLANNED);
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
		cmocka_unit_test(the_cable_lost_nothing),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
