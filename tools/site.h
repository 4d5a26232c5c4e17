#ifndef BANDCENSUS_TOOLS_SITE_H
#define BANDCENSUS_TOOLS_SITE_H

#include <stdbool.h>

#include "store/survey.h"

/* The runs of a survey that are read together: those of one place. What two places heard has
 * nothing to do with each other. */
struct site {
	char     name[64];
	int64_t *run;                   /* ids, rising */
	int      runs;
};

/* name NULL: the survey's only one. FAULT_INPUT when it has several then, or none of that
 * name; the one line names them. Owned until site_free. */
int site_choose(struct survey *s, const char *path, const char *name, struct site *out,
		struct fault *why);
bool site_has(const struct site *s, int64_t run);
void site_free(struct site *s);

#endif
