#ifndef BANDCENSUS_TOOLS_PLAN_DRAW_H
#define BANDCENSUS_TOOLS_PLAN_DRAW_H

#include "tools/plan/census.h"
#include "tools/plan/rehearse.h"

/* A script for the rehearsal, drawn from what the survey saw. An over found by sweeps began and
 * ended somewhere between two looks; replies fell between looks, and whole exchanges into rests:
 * each draw makes them up (tools/plan/speaker.h), of lengths and pauses as likely as census_traffic
 * tells, so that no look would have met what none met, and no more than the share of busy looks
 * has time for. Line i is channel i of the census; what is always on is one cue. Time runs from
 * census->start_us to end_us. Equal seeds draw equally. -1: no memory. */
int script_draw(const struct census *c, uint64_t seed, struct script *out);

/* The same of a part of the survey, from when its time runs. */
int script_draw_part(const struct census *c, int64_t from_us, int64_t to_us, uint64_t seed,
		     struct script *out);
void script_free(struct script *s);             /* zeroed is fine */

#endif
