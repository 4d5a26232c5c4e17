#ifndef BANDCENSUS_DAEMON_DONGLE_SOURCE_DONGLE_H
#define BANDCENSUS_DAEMON_DONGLE_SOURCE_DONGLE_H

#include "daemon/source.h"

/* What a dongle has done since it was opened, for logs and tests. */
struct dongle_counts {
	int64_t samples;                /* handed on in blocks                               */
	int64_t stale;                  /* samples dropped: of an old tuning, or unsettled   */
	int64_t lost;                   /* samples for which there was no room               */
	int64_t gaps;                   /* blocks with a gap in or before them               */
	int64_t retunes;                /* orders to tune that were answered                 */
	int64_t tail_us;                /* from the last sample before a tuning until its delivery was in */
	int64_t settling_us;            /* from a tuning done to the first sample handed on    */
	int64_t failures;               /* processes given up: it was found and set up anew  */
	int64_t listened_us;            /* what the samples amount to                        */
};

struct dongle_counts source_dongle_counts(const void *self);

#endif
