#ifndef BANDCENSUS_TOOLS_PLAN_RANGES_H
#define BANDCENSUS_TOOLS_PLAN_RANGES_H

#include "tools/plan/judge.h"

/* Search ranges: which stretches of the dial to search by hand.
 *
 * All steps of all bands that the receiver can search lie in one row, and of all ways to put
 * at most search_ranges - ranges_free ranges on it the one is taken that is worth most
 * (tools/plan/stretches.h). Worth is counted in channels found in an evening, by weight:
 *
 *     sum over steps     weight x chance
 *   - sum over steps     SWEEP_PRICE / scan_rate
 *   - sum over channels  SWEEP_PRICE x SWEEP_S x occupancy, of those that are heard well
 *   - for each range     RANGE_PRICE
 *
 * weight    of the service among the interests
 * chance    that a channel without a memory has an exchange in SEARCH_HOURS. Exchanges come
 *           as a Poisson process whose rate is not known: a gamma variable, of shape a and
 *           one hour before the survey, shape a + n and 1 h + watched after n exchanges in the
 *           hours watched; so chance = 1 - (h / (h + SEARCH_HOURS))^(a + n), h = 1 h + watched
 *           (negative binomial, any textbook). a is the share of channels in use, told by the
 *           band itself: as if of CHANNELS_MET others CHANNELS_USED had been. On a raster
 *           finer than an emission a channel is only so much of one.
 * watched   looks x how likely each meets an over of OCCUPANCY_OVER_S x the time between
 *           two; 0 for services of the day whose working hours nobody looked at, and in
 *           bands where the survey was deaf (tools/plan/unknown.h): that tells nothing
 * occupancy a search stops at what has a memory, and at data, too: it is longer by that
 *           share, of a full sweep at most
 *
 * A range lies in one band; begins and ends on channels that are on the receiver's step (where
 * the band has any: else on the steps nearest to channels); holds three channels or more;
 * takes SWEEP_S at most; and is clear of what never ends, of the set's own birdies, by half
 * their width, a step of the receiver and one of the raster, and of cellular telephones. */
#define SWEEP_S       15.0      /* a longer sweep, and a short call is over before it is met */
#define SEARCH_HOURS  3.0       /* an evening                                                */
#define SWEEP_PRICE   0.2       /* weighted channels a second of sweep                       */
#define RANGES_MOST   10        /* however many the set holds: nobody types in more          */
#define RANGE_PRICE   0.2       /* weighted channels a range: keys, and a place of few       */
#define CHANNELS_MET  200.0     /* one channel in forty is in use (all: common practice)     */
#define CHANNELS_USED 5.0

/* Fills p->search, the most worth first; the memories are in place. -1: no memory. */
int ranges_find(const struct matter *m, const struct judgement *j, struct plan *p);

/* The chance above. a: share of channels in use; n exchanges in so many hours watched. */
double ranges_chance(double a, int n, double watched_h);

#endif
