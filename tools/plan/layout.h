#ifndef BANDCENSUS_TOOLS_PLAN_LAYOUT_H
#define BANDCENSUS_TOOLS_PLAN_LAYOUT_H

#include "tools/plan/judge.h"

/* More of its busiest hour than this, and a channel keeps a scan for itself. */
#define CHATTY_SHARE 0.10

/* An idle cycle that still catches three overs of four (simulated: 40 channels
 * at 25 a second). */
#define CYCLE_S 1.6

/* A longer sweep, and a short call is over before it is met (common practice). */
#define SWEEP_S 15.0

/* Weight from which a band where nothing waits to be found is searched on the chance. */
#define CHANCE_WEIGHT 5.0

/* Gives every judgement that is to be kept a bank and a slot; those without
 * room are left out. Bank 1 first, one family of services a bank, locked ones
 * last. -1: no memory. */
int layout_banks(const struct matter *m, struct judgement *j, int n);

/* Which banks to switch on together; the memories are in place. */
void layout_sets(const struct matter *m, struct plan *p);

/* Chooses the priority memory and says why. */
void layout_priority(const struct matter *m, struct plan *p);

/* The search ranges, inside a band each and clear of what never ends; the memories
 * are in place. -1: no memory. */
int layout_ranges(const struct matter *m, const struct judgement *j, struct plan *p);

/* Whether the memory is for one of the services that must not wait. */
bool layout_urgent(const struct memory *m);

bool layout_chatty(const struct census *c, const struct memory *m);

#endif
