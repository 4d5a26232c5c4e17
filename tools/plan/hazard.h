#ifndef BANDCENSUS_TOOLS_PLAN_HAZARD_H
#define BANDCENSUS_TOOLS_PLAN_HAZARD_H

#include <stdbool.h>

#include "tools/plan/census.h"
#include "tools/plan/receiver.h"

#define HAZARD_TEXT 120

/* What the shelf receiver itself may add at a frequency it is set to: a birdie of its own, or
 * the image of a strong station twice its first intermediate frequency away. The survey knows
 * nothing of it: words for the sheet. false, and out "", when there is none. */
bool hazard_at(const struct receiver *r, const struct census *c, struct freq landed, enum mode mode,
	       char out[HAZARD_TEXT]);

#endif
