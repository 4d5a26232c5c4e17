#ifndef BANDCENSUS_DAEMON_DONGLE_PACE_H
#define BANDCENSUS_DAEMON_DONGLE_PACE_H

#include <stdbool.h>
#include <stdint.h>

/* Deliveries looked back at: 0.87 s of 8 KiB ones at 2.4 MS/s. */
#define PACE_KEPT 512

/* ... and seconds, when it must be sure. */
#define PACE_BINS 8

/* A dongle's stream carries no times. A delivery may come late but never early,
 * so of (time of arrival - time by counting samples) the least of late is the
 * true one: the clock of the stream. Lost samples move it on; so does, as it seems
 * for a while, a reader that is late all the time. */
struct pace {
	int32_t rate_hz;
	int64_t lag_us[PACE_KEPT];      /* arrival less count, of the last ones     */
	int     kept, next;
	int64_t least_us;
	int64_t bin_us[PACE_BINS];      /* the least lag of a second, ...           */
	int64_t bin_at_s[PACE_BINS];    /* ... which one                            */
	int64_t sure_us;                /* the least of those                       */
	int64_t first_us, newest_us;    /* arrival of the first and last ones kept  */
	int     late;                   /* so many were late in a row, ...          */
	int64_t late_us;                /* ... the first of them came at            */
	int64_t mark_us, mark_byte;     /* where the present rate check began       */
	int64_t last_us;                /* ... and when bytes were last counted     */
	bool    marked;
};

void pace_reset(struct pace *p, int32_t rate_hz);

/* Right after a reset: byte 0 was not received before at_us. Until the last seconds are
 * known, a reader that was late ever since is not taken for a prompt one. */
void pace_begin(struct pace *p, int64_t at_us);

/* A delivery that ended with byte end (counted from the reset on) came at at_us.
 * true when the stream's clock jumped by more than 5 ms: samples were lost on the way.
 * By more than half a second: the computer's clock leapt, or the stream stood still, and
 * all is learnt anew. */
bool pace_feed(struct pace *p, int64_t end, int64_t at_us);

/* Byte number byte was not received before this, unless the reader was late for
 * all of the last seconds (without pace_begin: ever since). */
int64_t pace_not_before(const struct pace *p, int64_t byte);

/* Whether its clock has been seen for long enough to be believed. */
bool pace_settled(const struct pace *p);

/* When byte number byte was received. Only after the first feed. */
int64_t pace_at(const struct pace *p, int64_t byte);

/* Bytes arrived over bytes due, once every 10 s; 1 when it is not yet time. A
 * silence of half a second and more is left out: that is another fault. */
double pace_share(struct pace *p, int64_t end, int64_t at_us);

#endif
