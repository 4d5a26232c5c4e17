#ifndef BANDCENSUS_DAEMON_STREAM_H
#define BANDCENSUS_DAEMON_STREAM_H

#include "daemon/ring.h"
#include "dsp/block.h"
#include "store/fault.h"

/* A dongle's endless row of bytes, made into blocks: each stamped, stale ones
 * dropped after a retune, losses seen. The library's thread puts into its ring;
 * all else is for the one thread that reads. */
struct stream;

struct stream *stream_create(const char *name);         /* name for faults; NULL: no memory */
void stream_destroy(struct stream *s);                  /* NULL is fine                     */
void stream_leave(struct stream *s);                    /* ... but leaves its ring to a putter that hangs */

struct ring *stream_ring(struct stream *s);             /* to be put into; owned by s       */

/* Samples come at this rate from now on. */
void stream_rate(struct stream *s, int32_t rate_hz);

/* What was received up to now and settle_us after it is not wanted, nor are so
 * many deliveries from now on, whole. That is no gap. */
void stream_drop(struct stream *s, int deliveries, int64_t settle_us);

/* The next n pairs, all but the centre filled in. Faults (FAULT_RETRY) when
 * nothing comes for a second, the putter ended, or samples fall out. Returns 0
 * or -1. */
int stream_read(struct stream *s, size_t n, struct block *out, struct fault *why);

/* The clock that is never stepped, in microseconds. */
int64_t stream_now_us(void);

#endif
