#ifndef BANDCENSUS_DAEMON_ITINERARY_H
#define BANDCENSUS_DAEMON_ITINERARY_H

#include "daemon/schedule.h"
#include "dsp/hop.h"
#include "store/station.h"
#include "store/timetable.h"

/* Prints what a night with these settings would do: bands, hops, revisit time,
 * parks, the odds of meeting an over, and how large the survey would grow in it,
 * and in a week and a year by the timetable. rules: what the hops are visited by;
 * sources: receivers that share them, 0: one that
 * can't be tuned. -1 with why: no memory. */
int itinerary_print(const struct station *s, const struct timetable *t, const struct band *bands,
		    int n_bands, const struct hop_plan *hops, const struct schedule_rules *rules, int sources,
		    struct fault *why);

#endif
