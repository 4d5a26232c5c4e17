#ifndef BANDCENSUS_TOOLS_PLAN_MERIT_H
#define BANDCENSUS_TOOLS_PLAN_MERIT_H

#include "tools/plan/forecast.h"

/* What a plan's sets of banks give their listener, to weigh one change against another: each is
 * rehearsed on the same few draws, so that what differs is the plan. */

/* Of one line, 0 .. 1: an over that is heard counts one, and one more when it answers what was
 * heard, for an answer is half the talk. 1 where nothing was said. */
double merit_line(const struct part *p);

struct merit {
	const struct census   *census;
	const struct receiver *receiver;
	struct repertoire      on;      /* borrowed                                       */
	int                    lines, sets;
	uint64_t               banks[BANKSETS_MAX];
	double                *want;    /* [set][line]: weight of what is scanned, 0: is not */
	double                 of[BANKSETS_MAX];        /* sum of them                    */
	double                 kept[BANKSETS_MAX];      /* as it was played; below 0: was not */
	struct part           *draw;    /* of each draw and line                          */
	struct part           *line;    /* of each line in the last set played            */
};

/* The sets as the plan has them now: what is wanted of each stays so, whatever is changed then.
 * -1: no memory. */
int merit_create(struct merit *v, const struct plan *p, const struct census *c, const struct receiver *r,
		 const struct repertoire *on);
void merit_free(struct merit *v);               /* zeroed is fine */

/* The mean of what is wanted, by weight, 0 .. 1; -1: no memory. v->line has the parts. */
double merit_set(struct merit *v, const struct plan *p, int set);

/* The same, but not played anew while nothing was changed in it: merit_changed says so. */
double merit_kept(struct merit *v, const struct plan *p, int set);

/* Memories in those banks have been changed for good. */
void merit_changed(struct merit *v, uint64_t banks);

/* What a change gives, the mean of the sets that have all of these banks and none of those: what it
 * is now, less what merit_kept had before. *gain, 0 where there are none. -1: no memory. */
int merit_gain(struct merit *v, const struct plan *p, uint64_t all, uint64_t none, double *gain);

#endif
