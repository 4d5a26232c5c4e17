#ifndef BANDCENSUS_DAEMON_DONGLE_RING_H
#define BANDCENSUS_DAEMON_DONGLE_RING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Deliveries on their way from the process that talks to the dongle to the one
 * that listens, in memory that both see. A fixed number of slots; what comes while
 * all are full is lost, and the next slot says so. One puts, one takes, and
 * neither ever waits for the other. The taker believes nothing that it reads. */
struct ring;

struct slot {
	const uint8_t *bytes;           /* borrowed until ring_release               */
	size_t         n;
	int64_t        first;           /* bytes put before these, lost ones too     */
	int64_t        at_us;           /* when they were put, as said by the putter */
	bool           gap;             /* bytes were lost just before               */
};

enum ring_result {
	RING_NONSENSE = -2,             /* the putter wrote what can't be            */
	RING_ENDED = -1,                /* nothing is left and nothing will come     */
	RING_EMPTY = 0,                 /* nothing yet                               */
	RING_SLOT = 1
};

/* The taker makes it, NULL with errno; slot_bytes is a multiple of 8. */
struct ring *ring_create(size_t slots, size_t slot_bytes);
void ring_destroy(struct ring *r);              /* NULL is fine; for both sides    */

/* What the putter's process inherits. The bell is readable when there is news;
 * ring_hush makes it quiet again, to be done before looking for the last time. */
int ring_memory(const struct ring *r);
int ring_bell(const struct ring *r);
void ring_hush(struct ring *r);

/* The putter's, from the two descriptors, which it then owns; NULL with errno. */
struct ring *ring_join(int memory, int bell);

/* The putter's, before the first put: none of the bytes was received before at_us. */
void ring_begin(struct ring *r, int64_t at_us);

/* Copies n bytes in, over several slots when one is too small. */
void ring_put(struct ring *r, const uint8_t *bytes, size_t n, int64_t at_us);
int64_t ring_count(const struct ring *r);       /* bytes put, lost ones too; any thread of the putter's */

/* Nothing more will be put. */
void ring_end(struct ring *r);

/* The oldest delivery. It stays in its slot until ring_release; the same one
 * comes again before that. */
enum ring_result ring_take(struct ring *r, struct slot *out);

/* What the putter said to ring_begin, be it true or not; 0: nothing. Of use once a slot
 * was taken. */
int64_t ring_begun_us(const struct ring *r);

void ring_release(struct ring *r);

#endif
