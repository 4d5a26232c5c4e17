#ifndef BANDCENSUS_TOOLS_PLAN_KEYS_H
#define BANDCENSUS_TOOLS_PLAN_KEYS_H

#include "tools/plan/plan.h"

/* Key presses to type the memory in after the one before (NULL: it is the first of its bank):
 * the digits and the point of what is typed, enter, and what differs from the line before. The
 * slot follows by itself (common practice). */
int keys_entry(const struct keypad *k, const struct memory *m, const struct memory *before);

#endif
