#include "tests/verbs_stage.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <jansson.h>

/* What the verbs promise to other programs: exit codes, complaints of one line, files, JSON's names. */

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
	{ "two sites in one survey", "merge both.survey night.survey later.survey", 0, "" },
	{ "and none of them chosen", "channels both.survey", 2,
	  "has several sites, choose with --site one of \"nowhere\", \"the other side of the hill\"" },
	{ "memories of no set", "report night.survey --output x --memories memories.csv", 2, "--memories needs --receiver FILE" },
	{ "output where no file can be", PLAN " --output /proc/self", 1, "/proc/self: can't write here" },
	{ "output below nothing", PLAN " --output nowhere/inside", 1, "nowhere/inside: can't make this folder" },
	{ "an invented town", "check " CONFIG "harlow-ferry.conf", 0, "" },
	{ "a file of no kind that there is", "check soup.conf", 2, "soup.conf: kind is \"soup\", must be daemon, bands, " },
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
	struct verbs_stage *s = *state;

	verbs_run(s, "--version >&2; echo 'kind = \"soup\";' >soup.conf", false);
	for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
		verbs_run(s, codes[i].words, true);
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
	struct verbs_stage *s = *state;

	verbs_run(s, "channels night.survey > /dev/full; echo $?", false);
	assert_string_equal(s->out.text, "1\n");
}

static void output_folder(void **state)
{
	static const char *const names[] = { "plan.txt", "plan.json", "plan.csv", "plan.html" };
	struct verbs_stage *s = *state;
	char path[200];
	struct stat is;

	verbs_run(s, PLAN " --output sheets", false);
	assert_int_equal(s->out.code, 0);
	assert_string_equal(s->out.text, "");
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		snprintf(path, sizeof path, "%s/sheets/%s", s->folder, names[i]);
		assert_int_equal(stat(path, &is), 0);
		assert_int_equal(is.st_mode & 0777, 0600);
		assert_true(is.st_size > 500);
	}
	/* Nothing else is left there; a second run replaces them. */
	verbs_run(s, PLAN " --output sheets && ls -A sheets | wc -l", false);
	assert_string_equal(s->out.text, "4\n");
	verbs_run(s, PLAN " --output night.survey/inside", true);
	assert_int_equal(s->out.code, 1);
}

/* A full disk is a limit to files here: what was begun is taken away, and said. */
static void full_disk_leaves_nothing(void **state)
{
	struct verbs_stage *s = *state;

	verbs_run(s, "--version && trap '' XFSZ && ulimit -f 2 && \"$BANDCENSUS\" " PLAN " --output small 2>&1; "
	    "echo $?; ls -A small", false);
	if (!strstr(s->out.text, "bandcensus: small/plan.txt: can't be written: File too large\n1\n") ||
	    strstr(s->out.text, "\n1\n")[3] != '\0')
		fail_msg("%s", s->out.text);
}

/* Each page lost in turn: what is saved comes with what is not, and with exit code 1. */
static void rescue_tells_what_is_lost(void **state)
{
	static const char *const told[] = {
		"not covered (not looked at, which is not the same as quiet)\n  fire: what was heard on 277 channels",
		"  fire: 2026-01-01 00:00 UTC is not covered\n", "\ntransmission          290  at least 50 lost\n",
		"\n1 of 24 pages can't be read: what was on them is lost\n",
	};
	struct verbs_stage *s = *state;

	verbs_run(s, "--version; for n in $(seq 5 18); do cp night.survey hurt.survey; "
	    "dd if=/dev/zero of=hurt.survey bs=4096 seek=$n count=1 conv=notrunc; "
	    "\"$BANDCENSUS\" rescue hurt.survey saved.survey || echo \"exit $?\"; rm saved.survey; done", false);
	for (size_t i = 0; i < sizeof told / sizeof told[0]; i++)
		if (!strstr(s->out.text, told[i]))
			fail_msg("\"%s\" is not in\n%s", told[i], s->out.text);
	int n = 0;
	for (const char *at = s->out.text; (at = strstr(at, "\nexit 1\n")); at++)
		n++;
	assert_int_equal(n, 14);
}

/* What stdout is for, when nothing went wrong. */
static void words_of_rare_results(void **state)
{
	static const char *const rows[][2] = {
		{ "compare night.survey later.survey --service paging", "no hour of the week or of the day was looked at in both" },
		{ "merge twice.survey night.survey night.survey",
		  "night.survey: its run of 2026-01-01T00:00:00Z at nowhere is in night.survey too, and is kept once\n"
		  "twice.survey: 1 run of 1 site" },
		{ "report night.survey --output suspects && cat suspects/report.html",
		  "123.833333</a></th><td>artefact</td><td></td><td>of our own making, seen while surveying: image, mirrors 123.4 MHz</td>" },
		{ "report later.survey --output page && cat page/report.html", "not looked at" },
		{ "report later.survey --output page && cat page/report.html", "<p>none</p>" },
		{ "check " CONFIG "harlow-ferry.conf", "invented town \"Harlow Ferry\", 70 senders, 9 events" },
	};
	struct verbs_stage *s = *state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		verbs_run(s, rows[i][0], false);
		if (s->out.code != 0 || !strstr(s->out.text, rows[i][1]))
			fail_msg("%s: exit %d, says %s", rows[i][0], s->out.code, s->out.text);
	}
}

/* plan.csv as it is and the same survey: nothing to do. With a tick in it, that is remembered. */
static void typed_in_it_changes_nothing(void **state)
{
	struct verbs_stage *s = *state;

	verbs_run(s, PLAN " --output once", false);
	verbs_run(s, PLAN " --memories once/plan.csv --output again && cmp once/plan.csv again/plan.csv && "
	    "tail -n +2 again/changes.csv | cut -d, -f1 | sort | uniq -c | tr -s ' '", false);
	assert_int_equal(s->out.code, 0);
	if (strstr(s->out.text, " keep\n") != strchr(s->out.text, '\n') - 5)
		fail_msg("%s", s->out.text);
	/* Its lines end in heard, pinned and band. */
	verbs_run(s, PLAN " --memories once/plan.csv >/dev/null && "
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
	struct verbs_stage *s = *state;

	verbs_run(s, "channels night.survey --json", false);
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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(exit_codes), cmocka_unit_test(full_output_is_failure),
		cmocka_unit_test(full_disk_leaves_nothing), cmocka_unit_test(rescue_tells_what_is_lost),
		cmocka_unit_test(words_of_rare_results),
		cmocka_unit_test(output_folder), cmocka_unit_test(typed_in_it_changes_nothing),
		cmocka_unit_test(json_is_as_promised),
	};

	return cmocka_run_group_tests(tests, verbs_set_stage, verbs_strike_stage);
}
