#ifndef BANDCENSUS_TOOLS_PLAN_FORECAST_H
#define BANDCENSUS_TOOLS_PLAN_FORECAST_H

#include <stdint.h>

#include "tools/plan/plan.h"
#include "tools/plan/rehearse.h"

/* What a set of banks would let the listener hear, by rehearsal over what the survey saw. */

#define FORECAST_DRAWS 8        /* of the night; they differ by less than a point or two */

/* The nights to rehearse over: the same for every set and every plan, so that what differs
 * between two forecasts is the plan. */
struct repertoire {
	struct script draw[FORECAST_DRAWS];
	int           draws;
};

/* -1: no memory. Line i is channel i of the census; the last line is never on. */
int repertoire_create(struct repertoire *r, const struct census *c);
void repertoire_free(struct repertoire *r);     /* zeroed is fine */

struct forecast {
	struct part all;                /* of the memories scanned, all draws together */
	struct part urgent;             /* of those that must not wait (layout_urgent) */
	double      seconds;            /* rehearsed                                   */
	double      value;              /* mean share of overs heard, by weight        */
	double      value_sd;           /* between draws                               */
};

/* Plays the memories of those banks that are not locked. -1: no memory, or nothing is scanned. */
int forecast(const struct plan *p, const struct census *c, const struct receiver *r,
	     const struct repertoire *on, uint64_t banks, struct forecast *out);

/* The same, and what became of each line in each draw: line[draw * (c->channels + 1) + channel],
 * room for on->draws of them. */
int forecast_lines(const struct plan *p, const struct census *c, const struct receiver *r,
		   const struct repertoire *on, uint64_t banks, struct forecast *out, struct part *line);

void part_add(struct part *to, const struct part *more);

/* What each of the plan's sets lets hear, written into it. -1: no memory. */
int forecast_sets(struct plan *p, const struct census *c, const struct receiver *r,
		  const struct repertoire *on);

#endif
