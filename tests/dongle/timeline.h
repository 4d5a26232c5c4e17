#ifndef BANDCENSUS_TESTS_DONGLE_TIMELINE_H
#define BANDCENSUS_TESTS_DONGLE_TIMELINE_H

#include <pthread.h>

#include "tests/dongle/samples.h"

#define EPOCHS 256

/* The registers said this from a byte of the stream on. */
struct epoch {
	int64_t          from;
	struct reception r;
};

/* A stream's bytes in time: when each is received, and under which registers.
 * Locks itself, but for timeline_fill, which one thread at a time may call. */
struct timeline {
	struct state   *state;
	int             dongle;
	pthread_mutex_t lock;
	struct epoch    epochs[EPOCHS]; /* oldest first                           */
	int             n_epochs;
	int64_t         base;           /* this byte ...                          */
	double          base_us;        /* ... is received at this time           */
	double          bytes_us;       /* bytes a microsecond                    */
	pthread_mutex_t filling;        /* whoever has the samples                */
	struct samples *samples;        /* NULL: not yet prepared                 */
};

void timeline_begin(struct timeline *t, struct state *s, int dongle);
void timeline_end(struct timeline *t);

/* Takes note of the registers, which are as they are from now on. */
void timeline_registers(struct timeline *t, int64_t now_us);

/* Does what takes long before samples flow. -1: no memory, or no town. */
int timeline_prepare(struct timeline *t);

/* When that byte will have been received; the first of a whole pair received at
 * a time. */
int64_t timeline_us(struct timeline *t, int64_t byte);
int64_t timeline_byte(struct timeline *t, int64_t us);

/* Works out n bytes. */
void timeline_fill(struct timeline *t, int64_t at, uint8_t *out, size_t n);

#endif
