#ifndef BANDCENSUS_TOOLS_PLAN_DRAW_H
#define BANDCENSUS_TOOLS_PLAN_DRAW_H

#include "tools/plan/census.h"
#include "tools/plan/rehearse.h"

/* A script for the rehearsal, drawn from what the survey saw. An over found by sweeps began and
 * ended somewhere between two looks, and short ones fell between looks altogether: each draw
 * makes up both, as likely as the channel's own overs say. Line i is channel i of the census;
 * what is always on is one cue. Time runs from census->start_us to end_us. Equal seeds draw
 * equally. -1: no memory. */
int script_draw(const struct census *c, uint64_t seed, struct script *out);

/* The same of a part of the survey, from when its time runs. */
int script_draw_part(const struct census *c, int64_t from_us, int64_t to_us, uint64_t seed,
		     struct script *out);
void script_free(struct script *s);             /* zeroed is fine */

/* Of overs log-normal with that mean, the share that looks every revisit_s for look_s meet:
 * the mean of min(1, (L + look_s) / revisit_s). */
double script_seen(double over_s, double look_s, double revisit_s);

#endif
