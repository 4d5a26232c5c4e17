#ifndef BANDCENSUS_TESTS_DONGLE_SAMPLES_H
#define BANDCENSUS_TESTS_DONGLE_SAMPLES_H

#include "tests/dongle/state.h"

/* What a dongle's converter makes of the town's air, or the counter of its test
 * mode. One owner, one thread. */
struct samples;

struct samples *samples_create(struct state *s, int dongle);   /* NULL: no memory or no town */
void samples_destroy(struct samples *m);                        /* NULL is fine */

/* Does beforehand what takes long at that rate. */
void samples_prepare(struct samples *m, const struct reception *r);

/* Bytes [at, at + n) of the stream, received as r says from start_us of the shared
 * clock on. Cheaper when they follow on the last. */
void samples_fill(struct samples *m, const struct reception *r, int64_t at, int64_t start_us,
		  uint8_t *out, size_t n);

#endif
