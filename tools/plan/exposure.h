#ifndef BANDCENSUS_TOOLS_PLAN_EXPOSURE_H
#define BANDCENSUS_TOOLS_PLAN_EXPOSURE_H

#include <stdint.h>

/* When each channel was looked at, and what the looks showed, by the local hour of the week: as much
 * as the survey's hours tell. Accounts of whole old days say nothing of the hour and are not here. */

/* Looks at the channels first .. first + count - 1 of a band; sums are of one channel. */
struct exposure {
	int32_t band, first, count;
	int     hour;                   /* of the week                              */
	double  looks, looked_s;
	double  pairs;                  /* looks soon after the one before          */
	double  wall_s;                 /* that the run lasted of the hour          */
};

/* What one channel's looks showed. */
struct account {
	int32_t band, channel;
	int32_t hour;                   /* of the week                              */
	int32_t busy;                   /* looks at or above the squelch            */
	int32_t evidence, openings;     /* at the daemon's threshold: busy looks; those that began an over */
	int32_t blind;                  /* looks that could not judge it            */
};

/* Seconds in which something that lasts length_s would have been met by a look: the union of
 * [t - length, t + look] over all looks. Looks come in bunches, looks - pairs of them: within one
 * between_s apart from end to begin, and from one to the next whatever is left of the time. */
double exposure_seen_s(const struct exposure *x, double between_s, double length_s);

/* In order of band, channel and hour, as a survey tells them; sorts where they are not. */
void accounts_sort(struct account *a, int n);
/* The first that is of this channel or of a later one. */
int accounts_find(const struct account *a, int n, int32_t band, int32_t channel);

#endif
