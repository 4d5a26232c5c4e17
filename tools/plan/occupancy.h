#ifndef BANDCENSUS_TOOLS_PLAN_OCCUPANCY_H
#define BANDCENSUS_TOOLS_PLAN_OCCUPANCY_H

#include "tools/plan/census.h"

/* Occupancy in the terms of Rec. ITU-R SM.1880 and Report ITU-R SM.2256. (Their titles and
 * sections were read, their text was not: what the terms mean is from memory, the formulas are
 * plain algebra.)
 *
 *   TM   a look's length              TR   revisit time, from one look at a channel to the next
 *   FCO  frequency channel occupancy: share of the time that a channel is in use
 *   SRO  spectrum resource occupancy: mean of the FCO of a band's channels
 *   FBO  frequency band occupancy: share of time and spectrum of a band that is in use
 *   busy hour: the hour of the day with the highest occupancy, all days together */
#define OCCUPANCY_OVER_S 5.0    /* an over, where none was met to tell (common practice) */

struct band_use {
	double          sro;            /* 0 .. 1                                     */
	struct interval sro_likely;     /* 95 %, the channels being independent; where none was */
					/* heard, by how many such overs may have been missed   */
	double          fbo;            /* each emission as wide as 99 % of its power  */
	int             busy_hour;      /* local; -1: no hour is known                */
	double          busy_hour_sro;
};
struct band_use occupancy_of_band(const struct census *c, int band);

/* Chance that an over of that length meets a look: min(1, (L + TM) / TR), its
 * beginning being anywhere between two looks. */
double occupancy_seen(double over_s, double look_s, double revisit_s);

/* Looks that know an occupancy p to that part of itself (0.1: within 10 %) in so much of
 * all cases (0.95), each independent of the others: (z / part)^2 (1 - p) / p. 0 < p < 1. */
double occupancy_samples(double p, double part, double confidence);

/* The same to that much, 0 .. 1, of all time: (z / off)^2 p (1 - p). */
double occupancy_samples_within(double p, double off, double confidence);

/* By so much more when one look hangs together with the next, with that correlation:
 * (1 + r) / (1 - r), two-state model. */
double occupancy_dependence(double correlation);

#endif
