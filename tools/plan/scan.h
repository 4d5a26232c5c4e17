#ifndef BANDCENSUS_TOOLS_PLAN_SCAN_H
#define BANDCENSUS_TOOLS_PLAN_SCAN_H

#include "dsp/freq.h"

/* A scanning receiver's arithmetic. */

/* Once round so many channels at so many a second when nothing is heard. */
double scan_cycle_s(int channels, double rate);

/* Steps from low to high, both included, and the time to search them. */
int64_t scan_steps(struct freq low, struct freq high, struct freq step);
double scan_sweep_s(struct freq low, struct freq high, struct freq step, double rate);

/* Chance that a look every so many seconds meets one over of that mean length
 * (exponential lengths). */
double scan_catch(double over_s, double every_s);

#endif
