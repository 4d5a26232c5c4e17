#ifndef BANDCENSUS_TOOLS_PLAN_HOLD_H
#define BANDCENSUS_TOOLS_PLAN_HOLD_H

#include "tools/plan/census.h"

/* Of its busiest hour, the share for which a channel would keep a receiver that scans it alone, where
 * rests hide most of its exchanges (struct beat): the busy looks of an hour stand for as much time as
 * lies between looks, and exchanges take longer than their overs by pauses and the delay. Few looks
 * make some hour look busy by chance: each hour is drawn towards the mean of those in which the
 * channel was heard, as if HOLD_EXPECTED more looks had met that. Where looks come often, what was
 * seen of its exchanges tells (settle.c). */
#define HOLD_EXPECTED 2.0
#define HOLD_DELAY_S  2.0
#define HOLD_SPARSE   3.0       /* times from look to look that pass on the average */

double hold_of(const struct census *c, const struct channel *ch);

#endif
