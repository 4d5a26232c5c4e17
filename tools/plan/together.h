#ifndef BANDCENSUS_TOOLS_PLAN_TOGETHER_H
#define BANDCENSUS_TOOLS_PLAN_TOGETHER_H

#include <stdbool.h>

#include "tools/plan/rehearse.h"

/* Which memories are worth scanning together: a busy one keeps the receiver from the others. */

struct candidate {
	int    line;                    /* of the scripts                             */
	double weight;                  /* how much its listener wants it             */
	double delay_s;
	bool   must;                    /* never left out                             */
	bool   held, passed;            /* sits there already; could have, and does not: see below */
};

/* The nights it is tried on, and the receiver. */
struct tryout {
	const struct script *draw;
	int    draws;
	double look_s;
};

/* Share of what is said that is heard, the mean over all n candidates by weight, those that are
 * not in included: 0 .. 1. -1: no memory. */
double together_worth(const struct tryout *t, const struct candidate *c, int n, const bool *in);

/* What no choice of them can pass: a receiver that knows what is on and changes over in no time.
 * 0 .. 1. -1: no memory. */
double together_bound(const struct tryout *t, const struct candidate *c, int n);

/* Chooses the ones that are worth most. One is left out only when that is worth more than
 * gain of the whole. Where some sit there already, who is new joins them for TOGETHER_MOVE each,
 * and all else changes when the choice made afresh is worth so much for each change. *worth: of
 * all of them, of those chosen, and what no choice can pass: a receiver that knows what is on
 * and changes over in no time. -1: no memory. */
#define TOGETHER_MOVE 0.01
struct together {
	double all, chosen, bound;
	int    tried;                   /* choices rehearsed                          */
};
int together_choose(const struct tryout *t, const struct candidate *c, int n, double gain, bool *in,
		    struct together *worth);

#endif
