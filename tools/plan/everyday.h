#ifndef BANDCENSUS_TOOLS_PLAN_EVERYDAY_H
#define BANDCENSUS_TOOLS_PLAN_EVERYDAY_H

#include "tools/plan/forecast.h"
#include "tools/plan/judge.h"

/* Bank 1 is for every day: what must not wait, and beside it a second seat for whatever else
 * is worth scanning together with it, told by rehearsal. So one bank on is enough, while the
 * other banks have their service whole. */

/* From so many banks on one is set aside for it. */
#define EVERYDAY_FROM 4

/* A channel more is left out when the others gain so much of all that is wanted. */
#define EVERYDAY_GAIN 0.003

/* Whether the receiver has such a bank: then no other service goes into bank 1. */
bool everyday_kept(const struct receiver *r);

/* Adds the second seats; the memories are in place, and stay in order. -1: no memory. */
int everyday_fill(const struct matter *m, const struct repertoire *on, struct plan *p);

#endif
