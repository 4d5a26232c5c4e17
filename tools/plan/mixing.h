#ifndef BANDCENSUS_TOOLS_PLAN_MIXING_H
#define BANDCENSUS_TOOLS_PLAN_MIXING_H

#include "tools/plan/suspect.h"

/* What strong signals make of each other inside an overloaded receiver. A
 * product is believed when its frequency fits, its parents are far stronger,
 * it is heard only while they are, and that could hardly be chance: parents
 * that are mostly on prove nothing about a child that is seldom on. */

/* Third order: 2A-B or A+B-C. */
bool mixing_ghost(const struct census *c, int i, struct suspect *out);

/* Beside one that is at least 40 dB stronger, and never without it. */
bool mixing_splatter(const struct census *c, int i, struct suspect *out);

#endif
