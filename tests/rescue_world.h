#ifndef BANDCENSUS_TESTS_RESCUE_WORLD_H
#define BANDCENSUS_TESTS_RESCUE_WORLD_H

#include "store/rescue.h"
#include "tests/survey_place.h"

/* A small survey of all kinds of rows, many pages of each, and what rescue leaves of it. */

#define PAGE 4096

/* Rows as text, in order. */
struct rescue_rows {
	char **text;
	int    n, room;
};

struct rescue_world {
	struct place place;
	char         left[WORLD_ROOM + 16];     /* what was saved */
	char        *bytes;                     /* of the good one */
	size_t       n;
	struct rescue_rows rows;                /* of it, but coverage */
	int         *on_page;                   /* [pages] rows that go with it */
};

/* For cmocka_run_group_tests: *state is the world. */
int rescue_set_up(void **state);
int rescue_tear_down(void **state);

/* Rows saved of a file of these n bytes, coverage aside; -1: refused, and nothing is left. Fails
 * where a row is saved that was not there, or a channel covered of which activity is lost. */
int rescue_of(struct rescue_world *w, const char *bytes, size_t n, const char *what,
	      struct rescue_sum *sum);

int64_t rescue_number(const char *path, const char *sql);
void rescue_ignore(void *lines, const char *line);      /* counts lines, an int */

#endif
