#include "tests/test.h"

#include "tests/night_world.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <jansson.h>

/* The verbs as a person runs them, on a survey made here. BANDCENSUS names the
 * program; GOLDEN=write in the environment makes the golden files anew. */

#define ROOM 200000
#define GOLDEN SOURCE_ROOT "/tests/golden/"
#define CONFIG SOURCE_ROOT "/config/"

struct output {
	char text[ROOM];
	int  code;
};

struct stage {
	char   folder[64];
	struct output out;
};

/* Runs the program in the stage's folder; errors too when with_errors. */
static void run(struct stage *s, const char *words, bool with_errors)
{
	char line[2000];

	snprintf(line, sizeof line, "cd %s && \"$BANDCENSUS\" %s %s", s->folder, words,
		 with_errors ? "2>&1 >/dev/null" : "2>/dev/null");
	FILE *p = popen(line, "r");
	assert_non_null(p);
	size_t n = fread(s->out.text, 1, ROOM - 1, p);
	s->out.text[n] = '\0';
	int status = pclose(p);
	s->out.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* A receiver stayed for the over: what was measured of it. */
static void stayed(struct transmission_row *t, const struct subtone_word *w)
{
	t->heard_ms = 4800;
	t->occupied_hz = t->kind == KIND_AM ? 4600 : 8000 + t->level_ddb;
	t->down26_hz = t->occupied_hz + 1500;
	t->deviation_hz = t->kind == KIND_NFM ? 1900 + t->level_ddb : 0;
	t->depth_pm = t->kind == KIND_AM ? 700 : 0;
	t->below = w->below;
	t->code = w->code;
}

/* w: the receiver stayed, and that was below speech; NULL: it did not. */
static void add(struct survey *s, struct world_over o, const struct subtone_word *w)
{
	struct transmission_row t = world_transmission(&o);
	struct activity_row a = world_activity(&o);
	struct fault why;

	if (w)
		stayed(&t, w);
	if (survey_add_transmission(s, &t, &why) < 0 || survey_add_activity(s, &a, &why) < 0)
		fail_msg("%s", why.text);
}

/* Stays for each first over of an exchange, and for all that send a code. */
static void talk(struct survey *s, int32_t band, int32_t channel, int exchanges, int32_t level_ddb,
		 enum kind kind, struct subtone_word w)
{
	for (int e = 0; e < exchanges; e++)
		for (int k = 0; k < 3; k++)
			add(s, (struct world_over){
				       band, channel, 60 + e * 13000.0 / exchanges + 7 * k + band,
				       5, level_ddb + 3 * (e % 3), 0, 9000, kind, w.tone_ddhz },
			    k == 0 || w.code ? &w : NULL);
}

static const struct subtone_word tone_100 = { .below = BELOW_TONE, .tone_ddhz = 1000 },
	tone_162 = { .below = BELOW_TONE, .tone_ddhz = 1622 },
	code_023 = { .below = BELOW_CODE, .code = 023 },
	toneless = { .below = BELOW_NOTHING }, unheard = { .below = BELOW_UNKNOWN };

static void fill(struct survey *s, struct run_row *run)
{
	struct fault why;
	struct incident_row lost = { .run = run->id,
				     .at_us = NIGHT_US + HOUR_US,
				     .until_us = NIGHT_US + HOUR_US + 240000000,
				     .what = "lost",
				     .text = "the dongle went away" };
	struct artefact_row image = { .run = run->id,
				      .at_us = NIGHT_US,
				      .band = WORLD_AIR,
				      .channel = 700,
				      .cause = "image",
				      .text = "mirrors 123.4 MHz" };

	assert_int_equal(survey_begin(s, &why), 0);
	for (int b = 0; b < WORLD_BANDS; b++)
		for (int h = 0; h < 4; h++) {
			struct coverage_row c = world_coverage(b, h);
			assert_int_equal(survey_add_coverage(s, &c, &why), 0);
		}
	talk(s, WORLD_FIRE, 186, 20, 300, KIND_NFM, tone_100);
	talk(s, WORLD_FIRE, 201, 1, 200, KIND_NFM, toneless);
	talk(s, WORLD_BUSINESS, 50, 12, 250, KIND_NFM, tone_162);
	talk(s, WORLD_BUSINESS, 150, 1, 250, KIND_NFM, code_023);
	talk(s, WORLD_BUSINESS, 200, 15, 250, KIND_DATA, unheard);
	talk(s, WORLD_AIR, 397, 30, 250, KIND_AM, unheard);
	talk(s, WORLD_AIR, 700, 3, 150, KIND_AM, unheard);
	talk(s, WORLD_PAGING, 100, 30, 500, KIND_DATA, unheard);
	add(s, (struct world_over){ WORLD_AIR, 1005, 0, 3599, 250, 0, 6000, KIND_AM, 0 }, NULL);
	add(s, (struct world_over){ WORLD_AIR, 1005, 3600, 3599, 250, 0, 6000, KIND_AM, 0 }, NULL);
	add(s, (struct world_over){ WORLD_AIR, 1005, 7200, 3599, 250, 0, 6000, KIND_AM, 0 }, NULL);
	add(s, (struct world_over){ WORLD_AIR, 1005, 10800, 3599, 250, 0, 6000, KIND_AM, 0 }, NULL);
	assert_int_equal(survey_add_incident(s, &lost, &why), 0);
	assert_int_equal(survey_add_artefact(s, &image, &why), 0);
	assert_int_equal(survey_end_run(s, run->id, run->end_us, &why), 0);
	assert_int_equal(survey_commit(s, &why), 0);
}

static int set_stage(void **state)
{
	struct stage *s = calloc(1, sizeof *s);
	struct run_row run = world_run(4);
	struct fault why = { 0 };
	char path[100], line[1000];

	if (!s || !getenv("BANDCENSUS") || setenv("TZ", "UTC", 1) < 0)
		return -1;
	strcpy(s->folder, "/tmp/test-verbs-XXXXXX");
	if (!mkdtemp(s->folder))
		return -1;
	*state = s;
	snprintf(path, sizeof path, "%s/night.survey", s->folder);
	struct survey *survey = survey_write(path, &run, world_band, WORLD_BANDS, &why);
	if (!survey) {
		fprintf(stderr, "%s\n", why.text);
		return -1;
	}
	fill(survey, &run);
	survey_close(survey);
	snprintf(line, sizeof line, "cd " SOURCE_ROOT "/tests/data && cp rehearsed.csv memories.csv %s", s->folder);
	return system(line);
}

static int strike_stage(void **state)
{
	struct stage *s = *state;
	char line[100];

	snprintf(line, sizeof line, "rm -r %s", s->folder);
	int result = system(line);
	free(s);
	return result;
}

/* ---- golden output ---- */

#define LISTED " --licences " SOURCE_ROOT "/tests/data/licences.csv"
#define FIELDS "../../tools/man/fields/"
#define REHEARSE "rehearse night.survey --receiver " CONFIG "receiver-400.conf --plan "
#define PLAN_AGAIN "$BANDCENSUS plan night.survey --receiver " CONFIG "receiver-400.conf"
#define PLAN "plan night.survey --receiver " CONFIG "receiver-400.conf"

static const struct {
	const char *words, *file;
} golden[] = {
	{ "status night.survey", "status.txt" },
	{ "channels night.survey", "channels.txt" },
	{ "channels night.survey --json", "channels.json" },
	{ "channels night.survey --csv", "channels.csv" },
	{ "channels --min-overs 30 --squelch 28 night.survey", "channels-squelch.txt" },
	{ "channels --squelch 28 night.survey" LISTED, "channels-listed.txt" },
	{ "channels --squelch 28 night.survey --csv" LISTED, "channels-listed.csv" },
	{ PLAN, "plan.txt" },
	{ PLAN " --json", "plan.json" },
	{ PLAN " --interests " CONFIG "interests.conf", "plan.txt" },   /* it states the presets */
	{ "plan night.survey --receiver " CONFIG "receiver-100.conf", "plan-100.txt" },
	{ "rasters night.survey", "rasters.txt" },
	{ "rasters night.survey --json", "rasters.json" },
	{ "rasters night.survey --csv", "rasters.csv" },
	{ "compare night.survey night.survey", "compare.txt" },
	{ "--help", "help.txt" },
	{ "help", "help.txt" },
	{ "plan --help", "help-plan.txt" },
	{ "help plan", "help-plan.txt" },
	{ "status night.survey --since 01:00 --until 03:00 --band air --service paging", "status-part.txt" },
	{ PLAN " --csv", "plan.csv" },
	{ "status night.survey --json", "status.json" }, { "status night.survey --csv", "status.csv" },
	{ "check night.survey " SOURCE_ROOT "/tests/data/licences.csv --csv | sed 's/[^,]*data/data/'", "check.csv" },
	{ "merge merged.survey night.survey --json && rm merged.survey", "merge.json" },
	{ "rescue night.survey saved.survey | grep -v pages && rm saved.survey", "rescue.txt" },
	{ "rescue night.survey saved.survey --json | grep -v pages && rm saved.survey", "rescue.json" },
	{ "rescue night.survey saved.survey --csv && rm saved.survey", "rescue.csv" },
	{ REHEARSE "rehearsed.csv --csv", "rehearse.csv" },
	{ "compare night.survey night.survey --json", "compare.json" },
	/* The manual has these. */
	{ "status night.survey --fields", FIELDS "status.txt" },
	{ "channels night.survey --fields", FIELDS "channels.txt" },
	{ PLAN " --fields", FIELDS "plan.txt" },
	{ REHEARSE "rehearsed.csv --fields", FIELDS "rehearse.txt" },
	{ "rasters night.survey --fields", FIELDS "rasters.txt" },
	{ "compare night.survey night.survey --fields", FIELDS "compare.txt" },
	{ "check night.survey --fields", FIELDS "check.txt" },
	{ "merge merged.survey night.survey --fields && rm merged.survey", FIELDS "merge.txt" },
	{ "merge merged.survey night.survey >&2 && \"$BANDCENSUS\" thin merged.survey --keep-overs '1 h' --fields && rm merged.survey",
	  FIELDS "thin.txt" },
	{ "rescue night.survey saved.survey --fields && rm saved.survey", FIELDS "rescue.txt" },
	{ PLAN " --memories memories.csv", "plan-memories.txt" },
	{ REHEARSE "rehearsed.csv", "rehearse.txt" },
	{ REHEARSE "rehearsed.csv --banks 3 --json", "rehearse.json" },
};

static void compare(const char *file, const char *got)
{
	char path[1000];

	snprintf(path, sizeof path, GOLDEN "%s", file);
	if (getenv("GOLDEN")) {
		FILE *f = fopen(path, "w");
		assert_non_null(f);
		fputs(got, f);
		fclose(f);
		return;
	}
	char *want = calloc(1, ROOM);
	FILE *f = fopen(path, "r");
	assert_non_null(want);
	if (!f)
		fail_msg("%s: %s", path, strerror(errno));
	want[fread(want, 1, ROOM - 1, f)] = '\0';
	fclose(f);
	if (strcmp(want, got) != 0)
		fail_msg("%s is not what came out:\n%s", path, got);
	free(want);
}

static void golden_output(void **state)
{
	struct stage *s = *state;

	for (size_t i = 0; i < sizeof golden / sizeof golden[0]; i++) {
		run(s, golden[i].words, false);
		if (s->out.code != 0)
			fail_msg("%s: exit %d", golden[i].words, s->out.code);
		compare(golden[i].file, s->out.text);
	}
}

/* What --help lists has help of its own, whoever added it. */
static void golden_help(void **state)
{
	struct stage *s = *state;
	char list[ROOM], verb[24], words[60], file[60];
	int verbs = 0;

	run(s, "--help", false);
	strcpy(list, s->out.text);
	for (const char *p = strstr(list, "\n  "); p; p = strstr(p + 1, "\n  ")) {
		assert_int_equal(sscanf(p, " %23[a-z] ", verb), 1);
		snprintf(words, sizeof words, "help %s", verb);
		snprintf(file, sizeof file, "help-%s.txt", verb);
		run(s, words, false);
		assert_int_equal(s->out.code, 0);
		compare(file, s->out.text);
		snprintf(words, sizeof words, "%s --help", verb);
		run(s, words, false);
		compare(file, s->out.text);
		verbs++;
	}
	assert_in_range(verbs, 11, 40);
	run(s, "--version >/dev/null; \"$BANDCENSUSD\" --help", false);
	compare("help-daemon.txt", s->out.text);
}

/* Points stay points where a comma is written: a locale is made for the occasion, in which the C library itself
 * writes one. */
static void any_locale(void **state)
{
	static const char *const tried[] = { "status night.survey", "channels night.survey --json",
		"channels night.survey --csv", "rasters night.survey" };
	static const char *const files[] = { "status.txt", "channels.json", "channels.csv", "rasters.txt" };
	struct stage *s = *state;
	char line[600];

	snprintf(line, sizeof line, "cd %s && localedef -i de_DE -f UTF-8 ./de_DE.UTF-8 >/dev/null 2>&1 && "
		 "[ \"$(LOCPATH=. LC_ALL=de_DE.UTF-8 /usr/bin/printf %%.1f 1,5)\" = 1,5 ]", s->folder);
	if (system(line) != 0)
		skip();
	for (size_t i = 0; i < sizeof tried / sizeof tried[0]; i++) {
		snprintf(line, sizeof line, "%s", tried[i]);
		setenv("LOCPATH", s->folder, 1);
		setenv("LC_ALL", "de_DE.UTF-8", 1);
		run(s, line, false);
		unsetenv("LC_ALL");
		unsetenv("LOCPATH");
		assert_int_equal(s->out.code, 0);
		compare(files[i], s->out.text);
	}
}

/* ---- exit codes and complaints ---- */

static const struct {
	const char *why, *words;
	int         code;
	const char *says;               /* in the one line on stderr; "": nothing is said */
} codes[] = {
	{ "no verb", "", 2, "no verb given" },
	{ "an unknown verb", "frobnicate", 2, "\"frobnicate\" is no verb" },
	{ "an unknown option", "channels night.survey --loud", 2, "--loud is unknown" },
	{ "an option with a letter wrong", "channels night.survey --squelsh 9", 2, "--squelsh is unknown (--squelch?)" },
	{ "a verb with two letters swapped", "chanenls night.survey", 2, "\"chanenls\" is no verb (channels?)" },
	{ "an option of another verb", "status night.survey --receiver x", 2, "--receiver is unknown, see bandcensus status --help" },
	{ "fields and values", "status night.survey --fields --csv", 2, "exclude each other" },
	{ "a picture without a place", "picture night.survey", 2, "picture needs --output DIR" },
	{ "one picture of several bands", "picture night.survey --output a.png", 2, "--output a.png is one picture and there are" },
	{ "a picture too small", "picture night.survey --band fire --output a.png --width 20", 2, "600 to 8000" },
	{ "a picture of a band", "picture night.survey --band fire --output a.png --width 600 --height 600", 0, "" },
	{ "pictures of all bands", "picture night.survey --output pictures --width 600 --height 600", 0, "" },
	{ "a part of a survey that is followed", "status night.survey --follow --band fire", 2, "--follow shows all of a survey" },
	{ "a survey that has ended", "status night.survey --follow --every 1s", 0, "" },
	{ "followed by a program", "status night.survey --follow --json", 0, "" },
	{ "nothing to follow", "status nowhere.survey --follow", 2, "nowhere.survey" },
	{ "no file", "channels", 2, "channels needs SURVEY" },
	{ "a file too many", "status night.survey other", 2, "\"other\" is a word too many" },
	{ "a squelch that is no number", "channels night.survey --squelch loud", 2, "must be a number, 0 to 60" },
	{ "a squelch out of range", "channels night.survey --squelch 99", 2, "must be a number, 0 to 60" },
	{ "an option without its value", "channels night.survey --squelch", 2, "--squelch needs a DB" },
	{ "half an over", "channels night.survey --min-overs 0.5", 2, "whole number" },
	{ "two formats", "channels night.survey --json --csv", 2, "exclude each other" },
	{ "no such survey", "channels nowhere.survey", 2, "nowhere.survey" },
	{ "a survey that is none", "channels " CONFIG "receiver-400.conf", 2, "receiver-400.conf" },
	{ "a list that is none", "channels night.survey --licences " CONFIG "receiver-100.conf", 2,
	  "receiver-100.conf:" },
	{ "a good list", "check " SOURCE_ROOT "/tests/data/licences.csv", 0, "" },
	{ "no receiver", "plan night.survey", 2, "needs --receiver" },
	{ "no such receiver", "plan night.survey --receiver none.conf", 2, "none.conf" },
	{ "the wrong kind", "plan night.survey --receiver " CONFIG "interests.conf", 2, "must be \"receiver\"" },
	{ "good files", "check night.survey " CONFIG "receiver-100.conf " CONFIG "receiver-400.conf " CONFIG
	  "receiver-1000.conf " CONFIG "interests.conf " CONFIG "bands-harlow-ferry.conf", 0, "" },
	{ "one bad among good", "check night.survey none.conf", 2, "none.conf" },
	{ "merging nothing", "merge new.survey", 2, "merge needs NEW SURVEY" },
	{ "merging over a file", "merge night.survey night.survey", 2, "is there already" },
	{ "thinning by nothing", "thin night.survey", 2, "thin needs to know what is kept" },
	{ "thinning by no duration", "thin night.survey --keep-overs soon", 2, "must be a duration" },
	{ "thinning what is not there", "thin nowhere.survey --keep-overs \"9 d\"", 2, "nowhere.survey" },
	{ "nothing is that old", "thin night.survey --keep-overs \"9000 d\"", 0, "" },
	{ "a site that it does not have", "channels night.survey --site elsewhere", 2, "has no site \"elsewhere\"" },
	{ "the site that it has", "channels night.survey --site elsewhere --site nowhere", 0, "" },
	{ "comparing with nothing", "compare night.survey", 2, "compare needs FIRST SECOND" },
	{ "comparing in two formats", "compare night.survey night.survey --json --csv", 2, "exclude each other" },
	{ "rehearsing nothing", "rehearse night.survey --receiver " CONFIG "receiver-400.conf", 2, "needs --plan" },
	{ "rehearsing on nothing", "rehearse night.survey --plan x.csv", 2, "needs --receiver" },
	{ "no such plan", REHEARSE "none.csv", 2, "none.csv: can't be read" },
	{ "a list of licences", REHEARSE SOURCE_ROOT "/tests/data/licences.csv", 2, "head has no column \"bank\"" },
	{ "no such memories", PLAN " --memories none.csv", 2, "none.csv: can't be read" },
	{ "memories of something else", PLAN " --memories " SOURCE_ROOT "/tests/data/licences.csv", 2,
	  "head has no column \"bank\"" },
	{ "memories that it has not", "plan night.survey --receiver " CONFIG "receiver-100.conf --memories memories.csv", 2,
	  "memories.csv:4: delay_s is \"4\", must be one of 0, 2 on" },
	{ "no banks", REHEARSE "rehearsed.csv --banks 1,,2", 2, "must be numbers from 1 to 64" },
	{ "bank 0", REHEARSE "rehearsed.csv --banks 0", 2, "must be numbers from 1 to 64" },
	{ "a bank too high", REHEARSE "rehearsed.csv --banks 65", 2, "must be numbers from 1 to 64" },
	{ "a bank that is empty", REHEARSE "rehearsed.csv --banks 1,9", 2, "bank without memories" },
	{ "folders for a rehearsal", REHEARSE "rehearsed.csv --output x", 2, "--output is unknown, see bandcensus rehearse --help" },
	{ "a time that is none", "channels night.survey --since noon", 2, "--since is \"noon\", must be a time such as 21:00" },
	{ "amid an hour", "status night.survey --until 02:30", 2, "--until is \"02:30\", must be at a whole hour" },
	{ "no such band", "status night.survey --band aair", 2, "has no band \"aair\", did you mean air" },
	{ "no such service", "compare night.survey night.survey --service rail", 2, "has no service \"rail\"" },
	{ "nor for a plan", PLAN " --band sea", 2, "has no band \"sea\"" },
	{ "nor for a rehearsal", REHEARSE "rehearsed.csv --band sea", 2, "has no band \"sea\"" },
	{ "nor for rasters", "rasters night.survey --band sea", 2, "has no band \"sea\"" },
	{ "nor for channels", "channels night.survey --band sea", 2, "has no band \"sea\"" },
	{ "nor for a report", "report night.survey --output x --band sea", 2, "has no band \"sea\"" },
	{ "help with nothing", "help plans", 2, "\"plans\" is no verb (plan?)" },
	{ "the version", "--version", 0, "" },
};

static void exit_codes(void **state)
{
	struct stage *s = *state;

	for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
		run(s, codes[i].words, true);
		if (s->out.code != codes[i].code)
			fail_msg("%s: exit %d, want %d: %s", codes[i].why, s->out.code,
				 codes[i].code, s->out.text);
		char *line = strchr(s->out.text, '\n');
		bool one = line ? line[1] == '\0' : s->out.text[0] == '\0';
		if (!one || !strstr(s->out.text, codes[i].says) ||
		    (codes[i].says[0] == '\0') != !line)
			fail_msg("%s: says \"%s\"", codes[i].why, s->out.text);
	}
}

static void full_output_is_failure(void **state)
{
	struct stage *s = *state;

	run(s, "channels night.survey > /dev/full; echo $?", false);
	assert_string_equal(s->out.text, "1\n");
}

static void output_folder(void **state)
{
	static const char *const names[] = { "plan.txt", "plan.json", "plan.csv", "plan.html" };
	struct stage *s = *state;
	char path[200];
	struct stat is;

	run(s, PLAN " --output sheets", false);
	assert_int_equal(s->out.code, 0);
	assert_string_equal(s->out.text, "");
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		snprintf(path, sizeof path, "%s/sheets/%s", s->folder, names[i]);
		assert_int_equal(stat(path, &is), 0);
		assert_int_equal(is.st_mode & 0777, 0600);
		assert_true(is.st_size > 500);
	}
	/* Nothing else is left there; a second run replaces them. */
	run(s, PLAN " --output sheets && ls -A sheets | wc -l", false);
	assert_string_equal(s->out.text, "4\n");
	run(s, PLAN " --output night.survey/inside", true);
	assert_int_equal(s->out.code, 1);
}

/* plan.csv as it is and the same survey: nothing to do. With a tick in it, that is remembered. */
static void typed_in_it_changes_nothing(void **state)
{
	struct stage *s = *state;

	run(s, PLAN " --output once", false);
	run(s, PLAN " --memories once/plan.csv --output again && cmp once/plan.csv again/plan.csv && "
	    "tail -n +2 again/changes.csv | cut -d, -f1 | sort | uniq -c | tr -s ' '", false);
	assert_int_equal(s->out.code, 0);
	if (strstr(s->out.text, " keep\n") != strchr(s->out.text, '\n') - 5)
		fail_msg("%s", s->out.text);
	/* Its lines end in heard, pinned and band. */
	run(s, PLAN " --memories once/plan.csv >/dev/null && "
	    "sed '/^3,1,/s/,,no,\\([a-z]*\\)\r$/,locked,no,\\1/' once/plan.csv >ticked.csv && ! cmp -s once/plan.csv ticked.csv && "
	    PLAN_AGAIN " --memories ticked.csv --output third && " PLAN_AGAIN " --memories third/plan.csv --csv | "
	    "grep -c '^3,1,.*,yes,no,.*,locked,no,'", false);
	assert_string_equal(s->out.text, "1\n");
}

/* Names and types that other programs rely on. */
static const struct {
	const char *name;
	json_type   type;
} members[] = {
	{ "use", JSON_STRING },
	{ "band", JSON_STRING }, { "channel", JSON_INTEGER }, { "frequency_hz", JSON_STRING },
	{ "step_hz", JSON_STRING }, { "mode", JSON_STRING }, { "first_seen", JSON_STRING },
	{ "last_seen", JSON_STRING }, { "looks", JSON_INTEGER }, { "busy_looks", JSON_INTEGER },
	{ "looked_s", JSON_REAL }, { "busy_s", JSON_REAL }, { "occupancy", JSON_REAL },
	{ "occupancy_low", JSON_REAL }, { "occupancy_high", JSON_REAL }, { "overs", JSON_INTEGER },
	{ "level_db", JSON_REAL }, { "peak_db", JSON_REAL }, { "offset_hz", JSON_REAL },
	{ "width_hz", JSON_REAL }, { "kind", JSON_STRING }, { "confidence", JSON_REAL },
	{ "service", JSON_STRING },
};

/* What a channel carries; what may be null is an object or a word otherwise. */
static const struct {
	const char *name;
	json_type   type;
	bool        or_null;
} natures[] = {
	{ "users", JSON_ARRAY, false }, { "users_of_overs", JSON_INTEGER, false },
	{ "occupied_hz", JSON_OBJECT, true }, { "down26_hz", JSON_OBJECT, true },
	{ "deviation_hz", JSON_OBJECT, true }, { "am_depth", JSON_OBJECT, true },
	{ "deviation_system_hz", JSON_REAL, true }, { "designator", JSON_STRING, true },
};

static void check_nature(const json_t *n)
{
	for (size_t i = 0; i < sizeof natures / sizeof natures[0]; i++) {
		const json_t *v = json_object_get(n, natures[i].name);
		if (!v || (json_typeof(v) != natures[i].type && !(natures[i].or_null && json_is_null(v))))
			fail_msg("%s is missing or of another type", natures[i].name);
	}
	assert_true(json_is_boolean(json_object_get(n, "talks")));
}

static void json_is_as_promised(void **state)
{
	struct stage *s = *state;

	run(s, "channels night.survey --json", false);
	json_t *all = json_loads(s->out.text, 0, NULL);
	assert_true(json_is_array(all) && json_array_size(all) == 9);
	for (size_t i = 0; i < json_array_size(all); i++) {
		const json_t *o = json_array_get(all, i);
		for (size_t m = 0; m < sizeof members / sizeof members[0]; m++) {
			const json_t *v = json_object_get(o, members[m].name);
			if (!v || json_typeof(v) != members[m].type)
				fail_msg("%s is missing or of another type", members[m].name);
		}
		check_nature(o);
		const json_t *tone = json_object_get(o, "tone_hz"),
			     *suspect = json_object_get(o, "suspect");
		assert_true(json_is_real(tone) || json_is_null(tone));
		assert_true(json_is_string(suspect) || json_is_null(suspect));
		assert_true(json_real_value(json_object_get(o, "occupancy_low")) <=
			    json_real_value(json_object_get(o, "occupancy")));
	}
	json_decref(all);
}

static void sheet_fits_the_page(void **state)
{
	struct stage *s = *state;

	run(s, PLAN " | awk 'length($0) > 100' | wc -l", false);
	assert_string_equal(s->out.text, "0\n");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(golden_output), cmocka_unit_test(golden_help),
		cmocka_unit_test(any_locale),
		cmocka_unit_test(exit_codes),
		cmocka_unit_test(full_output_is_failure),
		cmocka_unit_test(output_folder),
		cmocka_unit_test(typed_in_it_changes_nothing),
		cmocka_unit_test(json_is_as_promised),
		cmocka_unit_test(sheet_fits_the_page),
	};
	return cmocka_run_group_tests(tests, set_stage, strike_stage);
}
