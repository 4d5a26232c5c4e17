#ifndef BANDCENSUS_TOOLS_PLAN_PRIORITY_H
#define BANDCENSUS_TOOLS_PLAN_PRIORITY_H

#include "tools/plan/forecast.h"
#include "tools/plan/judge.h"

/* The memory that the receiver looks at again and again, whatever else is on and whichever banks
 * are: the one by which a rehearsal of all sets gains most of what is wanted, after what it costs
 * the others. It must be voice, sure of itself (no suspicion, not weak, steady, 12 dB and more) and
 * on for less than PRIORITY_LOAD of the time, for it would take the set over (common practice). */
#define PRIORITY_LOAD   0.05
#define PRIORITY_DB     12.0
#define PRIORITY_SPREAD 3.0     /* dB between its quarters: one station, always as strong */
#define PRIORITY_WEIGHT 5.0
#define PRIORITY_TRIED  5       /* candidates rehearsed: those that may gain most */

/* What the set in use has as its priority stays, if it loses no more than so much of itself by it. */
#define PRIORITY_KEEP 0.002

bool priority_fit(const struct matter *m, const struct memory *e);

/* Chooses it and says why it, or why none; the sets are in place. -1: no memory. */
int priority_choose(const struct matter *m, const struct repertoire *on, struct plan *p);

#endif
