#ifndef BANDCENSUS_TOOLS_PLAN_INTERVAL_H
#define BANDCENSUS_TOOLS_PLAN_INTERVAL_H

#include <stdint.h>

/* How well a share of busy looks is known. 95 % throughout. */
struct interval {
	double low, high;
};

/* Lengths of one kind, as sums; all 0: none known. */
struct spread {
	int    n;
	double sum, square;             /* of the lengths and of their squares          */
};

void spread_add(struct spread *s, double length);

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
	struct spread over, gap;        /* how long overs and the silences between were */
};

/* Wilson's score interval for k of n; both may be fractions. n <= 0: 0 .. 1. */
struct interval interval_wilson(double k, double n);

/* Correlation of one look with the next, 0 .. 0.9999. */
double interval_correlation(const struct looks *l);

/* Independent looks that know as much as n looks so correlated. */
double interval_effective(double n, double correlation);

/* Where the channel's long-run occupancy lies.
 *
 * Looks hang together over an over and a silence, so overs are what is counted. After k of
 * them the time on and the time off are sums of k lengths, each nearly a gamma variable with
 * shape k over the squared coefficient of variation of one, and the odds on : off vary as the
 * ratio of the two: exactly so for exponential lengths (an F variable), and with the variance
 * that renewal theory gives (Cox, Renewal Theory, 1962, from memory) for others. The
 * variation is measured, drawn towards 1 for overs and 2 for silences, which come in exchanges,
 * as if LENGTHS_EXPECTED had been met before. */
struct interval interval_occupancy(const struct looks *l);

/* Most overs an hour that may have come while none was seen in time_s, each having had that
 * chance of being seen: exact Poisson, one-sided, 3.0 / (chance x time). */
double interval_none_hour(double chance, double time_s);

#endif
