#ifndef BANDCENSUS_TESTS_VERBS_STAGE_H
#define BANDCENSUS_TESTS_VERBS_STAGE_H

#include "tests/test.h"

#include <stdbool.h>

/* A folder with a survey, night.survey, one of the week after, later.survey, and lists of memories, in which the built program that the
 * environment's BANDCENSUS names is run as a person would. */

#define VERBS_ROOM 200000
#define CONFIG     SOURCE_ROOT "/config/"
#define LISTED " --licences " SOURCE_ROOT "/tests/data/licences.csv"
#define FIELDS "../../tools/man/fields/"
#define REHEARSE "rehearse night.survey --receiver " CONFIG "receiver-400.conf --plan "
#define PLAN_AGAIN "$BANDCENSUS plan night.survey --receiver " CONFIG "receiver-400.conf"
#define PLAN "plan night.survey --receiver " CONFIG "receiver-400.conf"

struct verbs_output {
	char text[VERBS_ROOM];
	int  code;
};

struct verbs_stage {
	char   folder[64];
	struct verbs_output out;
};

/* For a group of tests: *state is a struct verbs_stage. */
int verbs_set_stage(void **state);
int verbs_strike_stage(void **state);

/* Runs the program in the stage's folder; errors too when with_errors, and they alone. */
void verbs_run(struct verbs_stage *s, const char *words, bool with_errors);

#endif
