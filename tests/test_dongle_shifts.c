#include "tests/test.h"

#include <glob.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include "tests/dongle_duty.h"

/* Shift after shift, and a clock on the wall that is put forward between them. */

#define QUICK "track = false;\nchallenge_share = 0.0;\n"
#define LATEST_S 60             /* of real time, for anything to happen */
#define EVENING_US INT64_C(1771358400000000)    /* 2026-02-17T20:00:00Z, `date -u -d @1771358400` */
#define MINUTE_US  INT64_C(60000000)

/* What a shift with the same settings began with was no mistake: what is amiss at the next one may pass. At the
 * beginning it would end the service, see test_duty.c. */
static void what_worked_is_tried_again(void **state)
{
	struct scenario s = scenario_usual();
	struct duty *d = *state;
	char settings[128], aside[140];

	s.start_us = EVENING_US + 59 * MINUTE_US - 15 * INT64_C(1000000);
	duty_begin(d, &s, "dongle", "150", "153.9", QUICK "hours = \"21:00-20:59\";\n");
	snprintf(settings, sizeof settings, "%s/daemon.conf", d->scene.folder);
	snprintf(aside, sizeof aside, "%s.aside", settings);
	assert_int_equal(rename(settings, aside), 0);
	assert_true(duty_says(d, "survey ends", 1, LATEST_S));
	if (!duty_says(d, "nothing of this watch: ", 1, LATEST_S))
		fail_msg("a shift that could not begin was not told of");
	assert_true(duty_said(d, "daemon.conf: can't be read: No such file") > 0);
	assert_int_equal(rename(aside, settings), 0);
	assert_true(duty_says(d, "survey begins", 2, LATEST_S));
	assert_true(duty_listens(d, 100000, LATEST_S));
	assert_int_equal(duty_end(d), 0);
}

/* --for is over at 12:10, and the shift begins at 20:00. Put on by half an hour, the clock is past the one and not
 * yet at the other: nothing is begun, and it ends when the ten minutes are over. */
static void nothing_is_begun_off_duty(void **state)
{
	struct scenario s = scenario_usual();
	struct scene scene;
	char settings[128], surveys[128], log[128], line[400];
	glob_t found = { 0 };

	(void)state;
	s.start_us = EVENING_US - 8 * 60 * MINUTE_US;
	struct mischief *m = scenario_mischief(&s, MISCHIEF_CLOCK);
	m->at = 90;
	m->value = 1800;
	scene_begin(&scene, &s);
	snprintf(settings, sizeof settings, "%s/a.conf", scene.folder);
	snprintf(surveys, sizeof surveys, "%s/*.survey", scene.folder);
	snprintf(log, sizeof log, "%s/log", scene.folder);
	FILE *f = fopen(settings, "w");
	assert_non_null(f);
	fprintf(f, "kind = \"daemon\";\nband_plan = \"" SOURCE_ROOT "/config/bands-harlow-ferry.conf\";\n"
		"survey = ( \"fire\" );\nhours = \"20:00-21:00\";\n");
	assert_int_equal(fclose(f), 0);
	const char *const argv[] = { getenv("BANDCENSUSD"), "--config", settings, "--folder", scene.folder,
				     "--source", "dongle", "--for", "10 min", NULL };
	int status = scene_wait(scene_start(&scene, argv, "out", "log"), LATEST_S);
	f = fopen(log, "r");
	assert_non_null(f);
	while (fgets(line, sizeof line, f))
		print_message("%s", line);
	fclose(f);
	assert_int_equal(status, 0);
	assert_int_equal(glob(surveys, 0, NULL, &found), GLOB_NOMATCH);
	scene_end(&scene);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(what_worked_is_tried_again, duty_create, duty_destroy),
		cmocka_unit_test(nothing_is_begun_off_duty),
	};

	setenv("TZ", "UTC", 1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
