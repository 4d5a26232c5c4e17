#ifndef BANDCENSUS_TOOLS_PLAN_SLOTS_H
#define BANDCENSUS_TOOLS_PLAN_SLOTS_H

#include "tools/plan/judge.h"

/* Which slot of a set in use each memory gets: as much value with as few moves as can be, for
 * fingers remember. Value is weight (interests.h):
 *
 * - what is in the set counts SLOTS_MOVE_COST more than what is new, where both want the last room;
 * - in a bank that is not its family's a scanned memory loses SLOTS_AWAY_LOSS of its weight, and
 *   is moved home where that is more than SLOTS_MOVE_COST (weights over 5);
 * - pinned slots are never touched;
 * - who comes new takes the slot of one that goes in its bank, which is one entry instead of an
 *   entry and a clearing, else an empty one, and where no more may be filled that of one on which
 *   nothing was heard: first what was looked at, last what was not. */
#define SLOTS_MOVE_COST 1.0
#define SLOTS_AWAY_LOSS 0.2

/* Seats those of the plan that have no slot yet (numbered beyond the banks' end, and second
 * seats), and adds those memories of the set on which nothing was heard and which may stay. The
 * plan is by bank and slot then. Nothing is done for an empty set. -1: no memory. */
int slots_settle(const struct matter *m, struct plan *p);

/* What is to be done with each slot, and why; the plan is complete. -1: no memory. */
int slots_changes(const struct matter *m, struct plan *p);

#endif
