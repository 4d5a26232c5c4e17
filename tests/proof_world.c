#include "tests/test.h"

#include "tests/proof_world.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/survey.h"
#include "store/town.h"

#define CONFIG SOURCE_ROOT "/config/"

#ifdef __SANITIZE_ADDRESS__     /* five times slower: fewer looks */
#define REST "15 min"
#else
#define REST "5 min"
#endif

const struct proof_run proof_runs[] = {
	{ "weeknight", "2026-02-17T20:00:00Z", 1 },
	{ "sunday",    "2026-02-21T20:00:00Z", 2 },
	{ "day",       "2026-02-18T08:00:00Z", 3 },
};

/* Kept though nobody talks there, twice; somebody's in another bank; nobody's. */
const struct proof_old proof_old[PROOF_OLD] = {
	{ 1, 3, 156.9e6, true },
	{ 2, 5, 154.235e6, false },
	{ 3, 2, 153.9e6, false },
	{ 4, 7, 167.5e6, true },
};

const char *const proof_receivers[PROOF_RECEIVERS] = { "400", "100", "1000" };

/* Where one more night is written. */
struct later {
	struct survey      *to;
	int64_t             run;
	const struct band  *band;
	const struct truth *truth;
};

static void command(const char *line)
{
	int status = system(line);

	if (status != 0)
		fail_msg("%s: %d", line, status);
}

/* The shipped night's settings, with another rest, or none and so the whole night. */
static void write_settings(const struct proof *p, bool whole)
{
	char line[300], path[256];
	FILE *from = fopen(CONFIG "harlow-ferry-night.conf", "r"), *to;

	snprintf(path, sizeof path, "%s/night.conf", p->folder);
	to = fopen(path, "w");
	assert_true(from && to);
	while (fgets(line, sizeof line, from)) {
		if (strncmp(line, "band_plan", 9) == 0)
			fprintf(to, "band_plan = \"" CONFIG "bands-harlow-ferry.conf\";\n");
		else if (strncmp(line, "rest ", 5) == 0)
			fprintf(to, whole ? "" : "rest = \"" REST "\";\n");
		else if (!whole || strncmp(line, "sweeps_per_spell", 16) != 0)
			fputs(line, to);
	}
	fclose(from);
	assert_int_equal(fclose(to), 0);
}

static void survey(struct proof *p, int run)
{
	const struct proof_run *r = &proof_runs[run];
	char line[2000], path[300];
	struct town town = { 0 };
	struct fault why;

	if (town_move(&town, r->start, r->name, &why) < 0)
		fail_msg("%s", why.text);
	p->start_us[run] = town.start_us;
	snprintf(path, sizeof path, "%s/%s.survey", p->folder, r->name);
	snprintf(line, sizeof line,
		 "\"$BANDCENSUSD\" --config '%s/night.conf' --source town:" CONFIG "harlow-ferry.conf --seed %d"
		 " --start %s --survey '%s' --truth '%s/%s.truth' >'%s/%s.log' 2>&1", p->folder, r->seed, r->start,
		 path, p->folder, r->name, p->folder, r->name);
	if (access(path, F_OK) < 0)
		command(line);
	snprintf(path, sizeof path, "%s/%s.truth", p->folder, r->name);
	p->truth[run] = truth_read(path, p->start_us[run], RUN_S);
}

static int again_coverage(void *self, const struct coverage_row *row)
{
	struct later *l = self;
	struct coverage_row c = *row;
	struct fault why;

	c.run = l->run;
	c.hour += 24 * HOUR_US;
	return survey_add_coverage(l->to, &c, &why);
}

/* What never ends goes on. */
static bool endless(const struct later *l, int32_t band, int32_t channel)
{
	double hz = freq_to_hz(raster_centre(&l->band[band].raster, channel));

	for (int i = 0; i < l->truth->senders; i++)
		if (fabs(l->truth->of[i].hz - hz) < 6250 &&
		    truth_air_s(&l->truth->of[i], 0, 0, RUN_S) > RUN_S / 2)
			return true;
	return false;
}

static int again_activity(void *self, const struct activity_row *row)
{
	struct later *l = self;
	struct activity_row a = *row;
	struct fault why;

	a.run = l->run;
	a.hour += 24 * HOUR_US;
	return endless(l, a.band, a.channel) ? survey_add_activity(l->to, &a, &why) : 0;
}

static int again_transmission(void *self, const struct transmission_row *row)
{
	struct later *l = self;
	struct transmission_row t = *row;
	struct fault why;

	t.run = l->run;
	t.first_us += 24 * HOUR_US;
	t.last_us += 24 * HOUR_US;
	return endless(l, t.band, t.channel) ? survey_add_transmission(l->to, &t, &why) : 0;
}

/* The same hours of the next day looked at as often, and nobody heard. */
static void one_more_night(const struct proof *p, int run)
{
	const char *name = proof_runs[run].name;
	char path[300], line[900];
	const struct band *band;
	struct later l = { .truth = p->truth[run] };
	struct fault why;

	snprintf(line, sizeof line, "cp '%s/%s.survey' '%s/%s-later.survey'", p->folder, name, p->folder, name);
	command(line);
	snprintf(path, sizeof path, "%s/%s.survey", p->folder, name);
	struct survey *from = survey_read(path, &why);
	assert_non_null(from);
	snprintf(path, sizeof path, "%s/%s-later.survey", p->folder, name);
	struct run_row next = { .start_us = p->start_us[run] + 24 * HOUR_US, .rate_hz = 2400000,
		.gain_ddb = 297, .ppm = 33, .dwell_us = 20000, .pfa = 1e-8, .margin_db = 3 };
	strcpy(next.station, "Harlow Ferry (invented)");
	int n = survey_bands(from, &band);
	l.band = band;
	l.to = survey_write(path, &next, band, n, &why);
	l.run = next.id;
	if (!l.to || survey_begin(l.to, &why) < 0 || survey_each_coverage(from, again_coverage, &l, &why) != 0 ||
	    survey_each_activity(from, again_activity, &l, &why) != 0 ||
	    survey_each_transmission(from, again_transmission, &l, &why) != 0 ||
	    survey_end_run(l.to, l.run, next.start_us + 12 * HOUR_US, &why) < 0 || survey_commit(l.to, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(l.to);
	survey_close(from);
}

static void write_old(const struct proof *p)
{
	char path[300];

	snprintf(path, sizeof path, "%s/old.csv", p->folder);
	FILE *f = fopen(path, "w");
	assert_non_null(f);
	fprintf(f, "bank,slot,type_mhz,mode,delay_s,locked,pinned\n");
	for (int i = 0; i < PROOF_OLD; i++)
		fprintf(f, "%d,%d,%.4f,NFM,2.0,no,%s\n", proof_old[i].bank, proof_old[i].slot, proof_old[i].hz / 1e6,
			proof_old[i].pinned ? "yes" : "no");
	assert_int_equal(fclose(f), 0);
}

int proof_begin(void **state)
{
	struct proof *p = calloc(1, sizeof *p);
	const char *whole = getenv("BANDCENSUS_PROOF");
	struct fault why;

	assert_true(p && getenv("BANDCENSUSD") && getenv("BANDCENSUS"));
	snprintf(p->folder, sizeof p->folder, "%s", whole ? whole : "/tmp/test-proof-XXXXXX");
	assert_true(whole ? mkdir(p->folder, 0700) == 0 || errno == EEXIST : mkdtemp(p->folder) != NULL);
	write_settings(p, whole != NULL);
	write_old(p);
	for (int i = 0; i < PROOF_RUNS; i++) {
		survey(p, i);
		one_more_night(p, i);
	}
	for (int i = 0; i < PROOF_RECEIVERS; i++) {
		char path[200];
		snprintf(path, sizeof path, CONFIG "receiver-%s.conf", proof_receivers[i]);
		if (receiver_read(path, &p->receiver[i], &why) < 0)
			fail_msg("%s", why.text);
	}
	*state = p;
	return 0;
}

int proof_end(void **state)
{
	struct proof *p = *state;
	char line[300];

	for (int i = 0; i < PROOF_RUNS; i++)
		truth_free(p->truth[i]);
	snprintf(line, sizeof line, "rm -r '%s'", p->folder);
	int result = getenv("BANDCENSUS_PROOF") ? 0 : system(line);
	free(p);
	return result;
}

const char *proof_told(const struct proof *p, const char *verb, const char *survey, const char *more)
{
	static char path[3][300];
	static int turn;
	char line[2000];

	turn = (turn + 1) % 3;
	snprintf(path[turn], sizeof path[turn], "%s/told-%d", p->folder, turn);
	snprintf(line, sizeof line, "\"$BANDCENSUS\" %s '%s/%s.survey' %s >'%s'", verb, p->folder, survey, more,
		 path[turn]);
	command(line);
	return path[turn];
}

json_t *proof_json(const struct proof *p, const char *verb, const char *survey, const char *more)
{
	char with[600];
	json_error_t at;

	snprintf(with, sizeof with, "--json %s", more);
	json_t *got = json_load_file(proof_told(p, verb, survey, with), 0, &at);
	if (!got)
		fail_msg("%s %s: line %d: %s", verb, survey, at.line, at.text);
	return got;
}

const char *proof_for(int receiver)
{
	static char option[PROOF_RECEIVERS][200];

	snprintf(option[receiver], sizeof option[receiver], "--receiver " CONFIG "receiver-%s.conf",
		 proof_receivers[receiver]);
	return option[receiver];
}

/* ---- listening ---- */

static double hertz(const json_t *memory, const char *key)
{
	const char *text = json_string_value(json_object_get(memory, key));
	char *end;

	assert_non_null(text);
	double hz = strtod(text, &end);
	return *end == '/' ? hz / strtod(end + 1, NULL) : hz;
}

static struct tuned tuned_to(const struct receiver *r, const json_t *memory)
{
	const char *mode = json_string_value(json_object_get(memory, "mode"));

	for (int i = 0; i < MODE_COUNT; i++)
		if (strcmp(mode, mode_name((enum mode)i)) == 0)
			return (struct tuned){ hertz(memory, "landed_hz"), r->filter_hz[i] / 2,
				json_number_value(json_object_get(memory, "delay_s")) };
	fail_msg("a memory in mode %s", mode);
	return (struct tuned){ 0 };
}

static bool in_set(const json_t *set, const json_t *memory)
{
	json_t *banks = json_object_get(set, "banks");
	bool in = false;

	for (size_t i = 0; i < json_array_size(banks); i++)
		in |= json_equal(json_array_get(banks, i), json_object_get(memory, "bank"));
	return in && !json_is_true(json_object_get(memory, "locked"));
}

struct replayed proof_listen(const struct proof *p, int run, int receiver, const json_t *plan,
			     const json_t *set)
{
	const struct receiver *r = &p->receiver[receiver];
	json_t *memories = json_object_get(plan, "memories"), *m;
	struct tuned *seat = calloc(json_array_size(memories) + 1, sizeof *seat), prior;
	struct replayer with = { .seat = seat, .look_s = 1 / r->scan_rate, .prior_s = r->priority_s,
		.squelch_db = SQUELCH_DB };
	struct replayed all = { 0 };
	size_t i;

	assert_non_null(seat);
	json_array_foreach(memories, i, m) {
		if (in_set(set, m))
			seat[with.seats++] = tuned_to(r, m);
		if (json_is_true(json_object_get(m, "priority"))) {
			prior = tuned_to(r, m);
			with.prior = &prior;
		}
	}
	replay(p->truth[run], &with, &all, NULL);
	free(seat);
	return all;
}
