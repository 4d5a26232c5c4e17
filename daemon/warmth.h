#ifndef BANDCENSUS_DAEMON_WARMTH_H
#define BANDCENSUS_DAEMON_WARMTH_H

#include "daemon/ledger.h"
#include "daemon/source.h"
#include "store/station.h"

/* A crystal drifts until it is warm: time to let pass before a look, which counts as not
 * looked. In microseconds, 0: none. */

/* Before the first look. A recording has been warm all the while. */
int64_t warmth_first_us(const struct station *st, const struct source_about *about);

/* After it was unplugged: for as long as it was away, or as one that was never warm. */
int64_t warmth_again_us(const struct station *st, int64_t away_us);

/* After a spell of sweeps the receiver may cool: not looked, and said so by the looked time.
 * rested: the sweeps after which it last did. */
int64_t warmth_rest_us(const struct station *st, int64_t sweeps, int64_t *rested);

/* Says that it warms up, in the log and in the survey. before: "the first look". */
void warmth_told(struct ledger *l, int64_t now_us, int64_t us, const char *before);

#endif
