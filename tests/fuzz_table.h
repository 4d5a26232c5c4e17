#ifndef BANDCENSUS_TESTS_FUZZ_TABLE_H
#define BANDCENSUS_TESTS_FUZZ_TABLE_H

#include "tests/fuzz.h"

#include "store/fault.h"

/* A reader of somebody's CSV file as a fuzz target: each program has one, and fuzz_table.c feeds it. */
struct fuzz_table {
	size_t size;                            /* of what it fills         */
	int  (*read)(const char *path, void *out, struct fault *why);
	int  (*rows)(const void *out);          /* after a refusal 0        */
	void (*promise)(void *out);             /* what must hold of it     */
	void (*free)(void *out);
};
extern const struct fuzz_table fuzz_table;

#endif
