#ifndef BANDCENSUS_TESTS_SURVEY_PLACE_H
#define BANDCENSUS_TESTS_SURVEY_PLACE_H

#include "tests/test.h"

#include "tests/survey_world.h"

/* A folder of one test's own, and what every test of a survey file does in it.
 * All fail the test where they can't. */
struct place {
	char folder[64];
	char path[WORLD_ROOM];          /* night.survey in it */
};

/* For cmocka_unit_test_setup_teardown: *state is the place. */
int make_place(void **state);
int remove_place(void **state);

void empty_place(const struct place *p);
int files_in(const struct place *p);

void put_file(const char *path, const void *bytes, size_t n);
char *get_file(const char *path, size_t *n);    /* to be freed */

/* Whatever SQLite says of a file, in one connection of its own. */
void ask(const char *path, const char *sql, char out[64]);

struct survey *must_write(const char *path, struct run_row *run);
struct survey *must_read(const char *path);

/* A survey of so many transactions, closed. */
void write_survey(const char *path, int n);
struct world_seen see_all(const char *path);

/* s must be NULL, and why of that kind, with those words in it. */
void expect_refusal(struct survey *s, const struct fault *why, enum fault_kind kind,
		    const char *says, const char *reason);

#endif
