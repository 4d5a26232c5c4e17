#ifndef BANDCENSUS_TOOLS_PLAN_SIDE_H
#define BANDCENSUS_TOOLS_PLAN_SIDE_H

#include "tools/plan/census.h"

/* What one of two surveys tells of a channel, in the hours that count. */

struct side_view {
	const struct census *census;
	const bool *counts;             /* [WEEK_HOURS], or the first 24 alone        */
	bool        of_week;            /* hours of the week; else of the day         */
	double      between_s;          /* from one look to the next within a bunch; INFINITY: as even as */
					/* can be */
};

struct side {
	int    channel;                 /* of its census; -1: not heard at all        */
	int    overs;                   /* that began then, in parks too              */
	int    exchanges;               /* of them, that sweeps met                   */
	double looks, busy;             /* of its sweeps, that could judge it; of these, busy */
	double pairs;                   /* of its sweeps' looks, soon after the one before */
	double evidence, openings;      /* of these, at the daemon's threshold        */
	double blind;                   /* looks that could not judge it              */
	double clusters;                /* of busy looks that hang together           */
	double uneven;                  /* so many of them tell as much as one would, were they all alike */
	struct interval length_s;       /* of an exchange, mean: as it was seen; as long as it may have been */
	double hours;                   /* in which an exchange would have been met   */
};

/* Needs no more of the view than the census. */
double side_between_s(const struct census *c);

/* at: the channel in the census, -1 when it is not there. hours is left at 0.
 *
 * The busy share of the looks tells how much a channel is on, without any error that comes from
 * when the looks were. How well it is known is another matter, for the busy looks of an exchange
 * go together. Clusters of weight w are worth (sum w)^2 / (sum w^2) alike ones, by the variance of a
 * compound Poisson sum (from memory). Where exchanges come in bunches themselves,
 * or what is heard wanders, quarters of an hour or hours that follow each other differ by more, and
 * that is believed instead (half the squared successive differences; von Neumann 1941, from memory). */
void side_measure(const struct side_view *v, int32_t band, int32_t channel, int at, struct side *out);

/* Hours of the view in which an exchange so long would have been met. */
double side_hours(const struct side_view *v, int32_t band, int32_t channel, double length_s);

#endif
