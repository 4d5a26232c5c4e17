#ifndef BANDCENSUS_DAEMON_ITINERARY_H
#define BANDCENSUS_DAEMON_ITINERARY_H

#include "dsp/hop.h"
#include "store/station.h"

/* Prints what a night with these settings would do: bands, hops, revisit time,
 * the odds of meeting an over, and how large the survey would grow. look_us:
 * length of a look; tunable: the source moves from hop to hop. */
void itinerary_print(const struct station *s, const struct band *bands, int n_bands,
		     const struct hop_plan *hops, int64_t look_us, bool tunable);

#endif
