#ifndef BANDCENSUS_TESTS_FOLDER_H
#define BANDCENSUS_TESTS_FOLDER_H

#include "tests/test.h"

/* A folder that lasts as long as a group of tests: *state. */
struct folder {
	char path[64];
};

int make_folder(void **state);
int drop_folder(void **state);

/* Both fail the test where they can't. */
void write_file(const struct folder *f, const char *name, const void *bytes, size_t n);
void remove_file(const struct folder *f, const char *name);

#endif
