#ifndef BANDCENSUS_DAEMON_GROWTH_H
#define BANDCENSUS_DAEMON_GROWTH_H

#include "store/thin.h"

/* How large a survey file becomes, foretold from how channels are to be looked at. Bytes, as the
 * file has them. What hours add is for a place where one channel in GROWTH_IN_USE is in use:
 * where more are, it is larger in proportion, and somewhat more. Nights in the invented town, whole
 * or with rests, of all bands or a few, came each to between a GROWTH_FACTOR-th and GROWTH_FACTOR
 * times what is foretold (tests/test_itinerary.c). */
#define GROWTH_IN_USE 100
#define GROWTH_FACTOR 2

struct growth {
	double start;           /* a survey that is just begun                                  */
	double run;             /* each run: its settings, word for word                        */
	/* Each hour: */
	double strips;
	double accounts;        /* coverage and activity, hour by hour                          */
	double day_of_accounts; /* the same of a day or night, however long, once it is joined  */
	double overs;
};

/* How each channel is looked at. */
struct looking {
	double looks;           /* in an hour                                                   */
	double spells;          /* in an hour: what goes on through a rest is an over in each   */
	double followed;        /* share of all time in which one look soon follows another     */
};

/* spans: stretches of a band that one hop looks at. */
struct growth growth_of(int channels, int spans, const struct looking *l);

double growth_bytes(const struct growth *g, double runs, double hours);

/* After a year of weeks that have so many runs, of so many hours in all, thinned as keep says. What
 * little strips shrink by it is left out. */
double growth_year(const struct growth *g, double runs, double hours, const struct keep *keep);

#endif
