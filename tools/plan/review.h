#ifndef BANDCENSUS_TOOLS_PLAN_REVIEW_H
#define BANDCENSUS_TOOLS_PLAN_REVIEW_H

#include "tools/plan/forecast.h"
#include "tools/plan/interval.h"

/* A plan's rehearsal, bank by bank and memory by memory. */

/* The channel whose lockout gives the others most. Gain: how much larger a share of their overs
 * is heard without it, the mean of the draws and between which bounds these lie. */
struct burden {
	int    channel;                 /* -1: none is worth locking out        */
	double gain, low, high;
	double held;                    /* share of the time that it takes      */
	double gained, lost;            /* overs more of theirs that are heard, less of its own, a draw */
};

#define BURDEN_GAIN 0.01        /* less is not worth a word; in each draw it must be a gain */
#define BURDEN_TRIED 3          /* those that hold the receiver longest */

struct review {
	uint64_t        banks;          /* bit bank - 1                         */
	int             scanned;        /* memories not locked; 0: all else is 0 */
	double          cycle_s;        /* once round when nothing is heard     */
	int             draws;
	struct forecast told;
	double          low, high;      /* share of overs heard in the poorest draw, in the best */
	struct part    *line;           /* of each channel, all draws together  */
	struct burden   burden;
};

/* -1: no memory. */
int review_create(const struct plan *p, const struct census *c, const struct receiver *r,
		  const struct repertoire *on, uint64_t banks, struct review *out);
void review_free(struct review *v);             /* zeroed is fine */

/* Share of exchanges met, as well as so many exchanges of the survey (draws repeat them) can tell. */
struct interval review_met(const struct part *part, int draws);

/* All banks that the plan has memories in. */
uint64_t review_banks(const struct plan *p);

#endif
