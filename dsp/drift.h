#ifndef BANDCENSUS_DSP_DRIFT_H
#define BANDCENSUS_DSP_DRIFT_H

#include <stdint.h>

#include "dsp/crystal.h"
#include "dsp/lines.h"

/* Follows a crystal whose error is known roughly, while it warms up and through the
 * night: every DRIFT_TURN_US the channels heard give the median of how far they
 * seem off, and that moves the estimate by as much as it is to be believed (a
 * scalar Kalman filter). Without witnesses it stays, and grows less sure. */
struct drift;

struct drift *drift_create(const struct band *bands, int n_bands);     /* NULL: no memory */
void drift_destroy(struct drift *d);            /* NULL is fine */

/* The error is known to be about that from now on. moving: it may still warm up,
 * which takes some half an hour. */
void drift_begin(struct drift *d, double ppm, double error_ppm, bool moving, int64_t mono_us);

/* Takes a line heard while applied_ppm was corrected for. Broadcast FM, harmonics
 * of the receiver's clock and what is nearer to another channel than the estimate is
 * sure are passed over. */
void drift_hear(struct drift *d, const struct line *line, double applied_ppm, int64_t mono_us);

#define DRIFT_TURN_US INT64_C(20000000)

/* Once in DRIFT_TURN_US: true, and the estimate is made anew. */
bool drift_turn(struct drift *d, int64_t mono_us);

struct drift_state {
	double  ppm, error_ppm; /* of the crystal; one standard error         */
	int     channels;       /* that told it last                          */
	int64_t told_us;        /* mono, when; begun, if never                */
};

struct drift_state drift_state(const struct drift *d);

#endif
