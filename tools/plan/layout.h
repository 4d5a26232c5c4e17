#ifndef BANDCENSUS_TOOLS_PLAN_LAYOUT_H
#define BANDCENSUS_TOOLS_PLAN_LAYOUT_H

#include "tools/plan/judge.h"

/* More of its busiest hour than this, and a channel keeps a scan for itself. */
#define CHATTY_SHARE 0.10

/* An idle cycle that still catches three overs of four (simulated: 40 channels
 * at 25 a second). */
#define CYCLE_S 1.6

/* Gives every judgement that is to be kept a bank and a slot; those without
 * room are left out. Bank 1 first, one family of services a bank, locked ones
 * last. -1: no memory. */
int layout_banks(const struct matter *m, struct judgement *j, int n);

/* Which banks to switch on together; the memories are in place. */
void layout_sets(const struct matter *m, struct plan *p);

/* Counts them anew, when memories have been added. */
void layout_recount(const struct receiver *r, struct plan *p);

/* Whether the memory is for one of the services that must not wait. */
bool layout_urgent(const struct memory *m);

bool layout_chatty(const struct census *c, const struct memory *m);

#endif
