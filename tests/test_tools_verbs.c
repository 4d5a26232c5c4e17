#include "tests/verbs_stage.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What the verbs print. GOLDEN=write in the environment makes the golden files anew. */

#define GOLDEN SOURCE_ROOT "/tests/golden/"

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
	{ "compare night.survey later.survey", "compare-later.txt" },
	{ "status later.survey", "status-later.txt" },
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
	char *want = calloc(1, VERBS_ROOM);
	FILE *f = fopen(path, "r");
	assert_non_null(want);
	if (!f)
		fail_msg("%s: %s", path, strerror(errno));
	want[fread(want, 1, VERBS_ROOM - 1, f)] = '\0';
	fclose(f);
	if (strcmp(want, got) != 0)
		fail_msg("%s is not what came out:\n%s", path, got);
	free(want);
}

static void golden_output(void **state)
{
	struct verbs_stage *s = *state;

	for (size_t i = 0; i < sizeof golden / sizeof golden[0]; i++) {
		verbs_run(s, golden[i].words, false);
		if (s->out.code != 0)
			fail_msg("%s: exit %d", golden[i].words, s->out.code);
		compare(golden[i].file, s->out.text);
	}
}

/* What --help lists has help of its own, whoever added it. */
static void golden_help(void **state)
{
	struct verbs_stage *s = *state;
	char list[VERBS_ROOM], verb[24], words[60], file[60];
	int verbs = 0;

	verbs_run(s, "--help", false);
	strcpy(list, s->out.text);
	for (const char *p = strstr(list, "\n  "); p; p = strstr(p + 1, "\n  ")) {
		assert_int_equal(sscanf(p, " %23[a-z] ", verb), 1);
		snprintf(words, sizeof words, "help %s", verb);
		snprintf(file, sizeof file, "help-%s.txt", verb);
		verbs_run(s, words, false);
		assert_int_equal(s->out.code, 0);
		compare(file, s->out.text);
		snprintf(words, sizeof words, "%s --help", verb);
		verbs_run(s, words, false);
		compare(file, s->out.text);
		verbs++;
	}
	assert_in_range(verbs, 11, 40);
	verbs_run(s, "--version >/dev/null; \"$BANDCENSUSD\" --help", false);
	compare("help-daemon.txt", s->out.text);
}

/* Points stay points where a comma is written: a locale is made for the occasion, in which the C library itself
 * writes one. */
static void any_locale(void **state)
{
	static const char *const tried[] = { "status night.survey", "channels night.survey --json",
		"channels night.survey --csv", "rasters night.survey" };
	static const char *const files[] = { "status.txt", "channels.json", "channels.csv", "rasters.txt" };
	struct verbs_stage *s = *state;
	char line[600];

	snprintf(line, sizeof line, "cd %s && localedef -i de_DE -f UTF-8 ./de_DE.UTF-8 >/dev/null 2>&1 && "
		 "[ \"$(LOCPATH=. LC_ALL=de_DE.UTF-8 /usr/bin/printf %%.1f 1,5)\" = 1,5 ]", s->folder);
	if (system(line) != 0)
		skip();
	for (size_t i = 0; i < sizeof tried / sizeof tried[0]; i++) {
		snprintf(line, sizeof line, "%s", tried[i]);
		setenv("LOCPATH", s->folder, 1);
		setenv("LC_ALL", "de_DE.UTF-8", 1);
		verbs_run(s, line, false);
		unsetenv("LC_ALL");
		unsetenv("LOCPATH");
		assert_int_equal(s->out.code, 0);
		compare(files[i], s->out.text);
	}
}

static void sheet_fits_the_page(void **state)
{
	struct verbs_stage *s = *state;

	verbs_run(s, PLAN " | awk 'length($0) > 100' | wc -l", false);
	assert_string_equal(s->out.text, "0\n");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(golden_output), cmocka_unit_test(golden_help),
		cmocka_unit_test(any_locale), cmocka_unit_test(sheet_fits_the_page),
	};

	return cmocka_run_group_tests(tests, verbs_set_stage, verbs_strike_stage);
}
