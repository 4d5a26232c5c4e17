#ifndef BANDCENSUS_TESTS_NOISE_H
#define BANDCENSUS_TESTS_NOISE_H

#include <complex.h>
#include <stddef.h>
#include <stdint.h>

/* Seeded randomness: the same numbers on every machine for the same seed. */
struct noise {
	uint64_t state;
};

uint64_t noise_bits(struct noise *r);

/* 0 <= x < 1 */
double noise_uniform(struct noise *r);

/* Normal: mean 0, variance 1. */
double noise_normal(struct noise *r);

/* a <= x <= b, whole */
int64_t noise_between(struct noise *r, int64_t a, int64_t b);

/* Adds white complex Gaussian noise of that mean power to iq[n]. */
void noise_add(struct noise *r, float complex *iq, size_t n, double power);

/* Adds power * exp(j (2 pi hz/rate i + phase)) */
void tone_add(float complex *iq, size_t n, double power, double hz, double rate, double phase);

/* Rounded to the unsigned bytes of a dongle, with full scale 1; clips. */
void bytes_from(const float complex *iq, size_t n, uint8_t *out);

#endif
