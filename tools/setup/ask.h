#ifndef BANDCENSUS_TOOLS_SETUP_ASK_H
#define BANDCENSUS_TOOLS_SETUP_ASK_H

#include <stdbool.h>
#include <stdio.h>

#include "store/fault.h"

/* Questions that are answered in a terminal, by an option, or by the preset, in the same words. */
struct asker {
	FILE *in, *out;
	bool  asks;             /* there is somebody to ask */
};

/* Hands an answer to take: what was given by an option; else, where there is nobody to ask, the
 * preset; else what is typed, where an empty line is the preset, and an answer that take refuses is
 * asked for again, its fault shown. -1 with why: an option or preset that take refuses; no more
 * input. */
int ask(const struct asker *a, const char *question, const char *given, const char *preset,
	int (*take)(void *self, const char *answer, struct fault *why), void *self,
	struct fault *why);

#endif
