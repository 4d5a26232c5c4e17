#ifndef BANDCENSUS_STORE_DRAFT_H
#define BANDCENSUS_STORE_DRAFT_H

#include <limits.h>

#include "store/survey_file.h"

/* A survey that is being made out of others, under a name of its own beside the one it is to have:
 * it appears there whole or not at all, with mode 0600, and never over a file that is there. Start
 * with { 0 }. For the parts of the store that make surveys. */
struct draft {
	struct survey *survey;          /* an empty file, open for writing; not laid out */
	char           path[PATH_MAX];  /* "": none                                      */
	int            lock;            /* on it, where there is one                     */
};

/* It is called .OUT.draft, and locked while it is made: one that nobody holds was left by a program
 * that was killed, and is taken away. FAULT_INPUT when there is something at out already, or
 * another program is making it. */
int draft_open(struct draft *d, const char *out, struct fault *why);

/* Whole on the disk before it has its name. */
int draft_finish(struct draft *d, const char *out, struct fault *why);

void draft_drop(struct draft *d);       /* nothing stays of one that is not finished */

#endif
