#ifndef BANDCENSUS_DAEMON_TOWN_NOISE_H
#define BANDCENSUS_DAEMON_TOWN_NOISE_H

#include <stddef.h>
#include <stdint.h>

#include "dsp/dice.h"

/* Noise made beforehand and read from random places. A table seldom repeats
 * itself audibly: each stretch of WAVE_MOST samples is from another place and
 * turned by another angle. */
struct noise {
	float *a, *b;           /* real and imaginary part through the passband, unit */
	                        /* density: power 1 each were the passband flat       */
	float *white;           /* real, power 1                                      */
};

/* -1: no memory. Owned until noise_free. */
int noise_create(struct noise *n, uint64_t seed);
void noise_free(struct noise *n);

/* Shapes the noise for a sample rate. Slow. -1: no memory. */
int noise_shape(struct noise *n, uint64_t seed, int32_t rate_hz);

/* Fills n samples, WAVE_MOST at the most: antenna is the amplitude of the shaped
 * noise on each rail, converter that of the white. */
void noise_fill(const struct noise *n, struct dice *d, float *re, float *im, double antenna,
		double converter, int count);

/* What the passband leaves of a signal's amplitude, that far from the centre. */
double passband(double offset_hz);

#endif
