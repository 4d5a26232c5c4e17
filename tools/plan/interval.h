#ifndef BANDCENSUS_TOOLS_PLAN_INTERVAL_H
#define BANDCENSUS_TOOLS_PLAN_INTERVAL_H

#include <stdint.h>

/* How well a share of busy looks is known. 95 % throughout. */
struct interval {
	double low, high;
};

/* What was counted on one channel. The three counts below busy are taken at the
 * daemon's own threshold, so they go with evidence, not with busy. */
struct looks {
	int64_t looks;          /* looks that could judge the channel           */
	int64_t busy;           /* of these, at or above the squelch            */
	int64_t evidence;       /* of these, at or above the daemon's threshold */
	int64_t openings;       /* busy, and not at the look before             */
	int64_t held;           /* busy, and busy at the look soon before       */
	int64_t pairs;          /* looks soon after the one before              */
	int     overs;
};

/* Wilson's score interval for k of n; both may be fractions. n <= 0: 0 .. 1. */
struct interval interval_wilson(double k, double n);

/* Correlation of one look with the next, 0 .. 0.9999. */
double interval_correlation(const struct looks *l);

/* Independent looks that know as much as n looks so correlated. */
double interval_effective(double n, double correlation);

/* Where the channel's long-run occupancy lies. */
struct interval interval_occupancy(const struct looks *l);

#endif
