#ifndef BANDCENSUS_TOOLS_PLAN_DELAY_H
#define BANDCENSUS_TOOLS_PLAN_DELAY_H

#include "tools/plan/forecast.h"
#include "tools/plan/judge.h"

/* How long scanning waits on a memory after an over, for the answer. The shortest choice of the
 * receiver that DELAY_COVERS of the pauses inside exchanges are shorter than (common practice: the
 * 80th to 90th percentile); then the next shorter one, if that still covers DELAY_LEAST, or the
 * next longer one, where a rehearsal shows more by it: a short delay leaves answers, a long one
 * leaves the others. */
#define DELAY_COVERS 0.85
#define DELAY_LEAST  0.70

#define DELAY_USUAL_S 2.0       /* where no pauses were measured (common practice)         */
#define DELAY_HALF_S  4.0       /* and only one side of the talk is heard (common practice) */

/* A change is worth it from so much of what a set lets hear. */
#define DELAY_GAIN 0.002

/* Share of the pauses inside exchanges that are over by then: after the hang they are exponential
 * (renewal.h). -1: no pauses were measured. */
double delay_covers(const struct channel *ch, double delay_s);

/* Whether that delay fits what was measured: DELAY_LEAST or the longest the receiver has. */
bool delay_fits(const struct receiver *r, const struct channel *ch, int64_t delay_us);

/* The delay before any rehearsal, and why. */
int64_t delay_measured(const struct receiver *r, const struct census *c, int channel, char why[80]);

/* Rehearses the choices next to each memory's delay in the sets that have it. What is pinned, and
 * what the set in use has and fits, stays. -1: no memory. */
int delays_choose(const struct matter *m, const struct repertoire *on, struct plan *p);

#endif
