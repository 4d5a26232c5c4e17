#ifndef BANDCENSUS_TESTS_CUES_H
#define BANDCENSUS_TESTS_CUES_H

#include "tools/plan/rehearse.h"

/* For qsort: a script's cues are by their beginning. */
static inline int cues_by_on(const void *a, const void *b)
{
	const struct cue *x = a, *y = b;

	return (x->on_s > y->on_s) - (x->on_s < y->on_s);
}

#endif
