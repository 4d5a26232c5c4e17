#ifndef BANDCENSUS_DAEMON_DONGLE_STREAM_H
#define BANDCENSUS_DAEMON_DONGLE_STREAM_H

#include "daemon/dongle/ring.h"
#include "dsp/block.h"

/* A dongle's endless row of bytes, taken out of its ring and made into blocks:
 * each stamped, stale ones dropped after a retune, losses seen. Never waits. */
struct stream;

enum stream_result {
	STREAM_NO_MEMORY = -4,
	STREAM_NONSENSE = -3,           /* the ring holds what can't be               */
	STREAM_ENDED = -2,              /* nothing more will come                     */
	STREAM_THIN = -1,               /* under 95 % of the bytes due came in 10 s   */
	STREAM_LATER = 0,               /* the ring is empty                          */
	STREAM_BLOCK = 1
};

/* Bytes, since it was created. */
struct stream_counts {
	int64_t taken;                  /* handed on in blocks                        */
	int64_t stale;                  /* dropped, of an old tuning or unwanted      */
	int64_t lost;                   /* for want of room in the ring while wanted  */
	int64_t gaps;                   /* blocks with a gap                          */
	int64_t tail;                   /* of stale: rest of the delivery that ended the */
					/* last block before a tuning                 */
	int64_t settling_us;            /* from tunings done to the first sample wanted */
};

struct stream *stream_create(void);             /* NULL: no memory */
void stream_destroy(struct stream *s);          /* NULL is fine    */

/* From now on out of this ring, from nothing; borrowed until the next attach
 * (NULL: none). Its putter was begun at since_us: deliveries of before, of the future,
 * or with more bytes than any dongle makes in that time, can't be. All that comes is
 * stale until stream_hold and stream_fresh. */
void stream_attach(struct stream *s, struct ring *ring, int64_t since_us);

/* Is being tuned, to this rate: what comes is stale until stream_fresh. */
void stream_hold(struct stream *s, int32_t rate_hz);

/* Tuned: what was among the first put bytes is stale, the delivery then under way
 * as well, and what was received before at_us plus the time the tuner takes to
 * settle. Any put; at_us is a time of stream_now_us that has been. */
void stream_fresh(struct stream *s, int64_t put, int64_t at_us);

/* A while went by without listening: what came meanwhile is not wanted, and is
 * no gap. The clock may have leapt. */
void stream_rested(struct stream *s);

/* The next n pairs, all but the centre filled in, borrowed until the next call. */
enum stream_result stream_read(struct stream *s, size_t n, struct block *out);

/* When something wanted last came, on the clock of stream_now_us; 0: not yet
 * since the last attach, fresh or rested. */
int64_t stream_heard_us(const struct stream *s);

double stream_share(const struct stream *s);    /* of the bytes due; after STREAM_THIN */
struct stream_counts stream_counts(const struct stream *s);

/* The clock that is never stepped, in microseconds. */
int64_t stream_now_us(void);

#endif
