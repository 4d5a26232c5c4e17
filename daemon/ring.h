#ifndef BANDCENSUS_DAEMON_RING_H
#define BANDCENSUS_DAEMON_RING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Deliveries on their way from the thread that must never wait to the one that
 * may. A fixed number of slots; what comes while all are full is lost, and the
 * next slot says so. One thread puts, one takes. */
struct ring;

struct slot {
	const uint8_t *bytes;           /* borrowed until ring_release               */
	size_t         n;
	int64_t        first;           /* bytes put before these, lost ones too     */
	int64_t        at_us;           /* when they were put, as said by the putter */
	bool           gap;             /* bytes were lost just before               */
};

enum ring_result {
	RING_ENDED = -1,                /* nothing is left and nothing will come     */
	RING_LATE = 0,                  /* nothing came in that time                 */
	RING_SLOT = 1
};

struct ring *ring_create(size_t slots, size_t slot_bytes);      /* NULL: no memory */
void ring_destroy(struct ring *r);      /* NULL is fine; no thread may be in it    */

/* Copies n bytes in, over several slots when one is too small. Never waits for
 * room; the lock is held for a slot's bookkeeping only. */
void ring_put(struct ring *r, const uint8_t *bytes, size_t n, int64_t at_us);

/* Nothing more will be put. Whoever waits wakes. */
void ring_end(struct ring *r);

/* The oldest delivery, waiting up to wait_us for one. It stays in its slot
 * until ring_release; the same slot comes again before that. */
enum ring_result ring_take(struct ring *r, int64_t wait_us, struct slot *out);
void ring_release(struct ring *r);

/* Drops all that waits and forgets what was lost before: a fresh start, no gap. */
void ring_clear(struct ring *r);

/* Waits until ring_end was called; false when it was not in that time. */
bool ring_wait_end(struct ring *r, int64_t wait_us);

/* Bytes lost for want of room since it was created. */
int64_t ring_lost(struct ring *r);

#endif
