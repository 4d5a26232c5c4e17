#ifndef BANDCENSUS_TOOLS_PLAN_DOUBLES_H
#define BANDCENSUS_TOOLS_PLAN_DOUBLES_H

#include "tools/plan/forecast.h"
#include "tools/plan/judge.h"

/* Second seats for what must not wait, in another bank that is scanned with its own: it is then
 * looked at twice a round, at the cost of one memory. Only where the priority is taken already, and
 * rehearsed the sets that have both banks gain DOUBLE_GAIN of what is wanted by it, while what is
 * wanted of the other bank alone loses no more than DOUBLE_COST; never beside what is chatty. */
#define DOUBLE_GAIN  0.002
#define DOUBLE_COST  0.02
#define DOUBLE_KEEP  0.01       /* in favour of one that the set in use has, against one that it could have */
#define DOUBLES_MOST 3
#define DOUBLES_TRIED 12        /* places rehearsed, at most               */

/* Adds them at the banks' ends; a set in use keeps those it has, and gets no more. The sets and the
 * priority are in place, and no memory moves. -1: no memory. */
int doubles_add(const struct matter *m, const struct repertoire *on, struct plan *p);

#endif
