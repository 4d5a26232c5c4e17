#ifndef BANDCENSUS_DAEMON_TOWN_WAVE_H
#define BANDCENSUS_DAEMON_TOWN_WAVE_H

#include <stddef.h>
#include <stdint.h>

/* The three loops that every sample of the town goes through. Real and
 * imaginary parts are kept apart until the last. */

#define WAVE_MOST 960           /* samples made at a time */

/* A stretch over which phase and amplitude are straight lines. */
struct arc {
	float turns, step;      /* at its first sample, and from sample to sample */
	float level, slope;     /* the same of the amplitude                      */
};

/* r = w + (c + js)(a + jb): noise through the passband, turned and scaled, upon
 * the converter's own. */
void wave_noise(float *re, float *im, const float *a, const float *b,
		const float *wa, const float *wb, float c, float s, int n);

/* Adds a signal of arcs of `each` samples, a multiple of 8, the last one cut at n. */
void wave_add(float *re, float *im, const struct arc *arcs, int each, int n);

/* A converter with a little imbalance and offset. */
struct converter {
	float zero_i, zero_q;   /* where no signal reads            */
	float gain, skew;       /* Q = (1 + gain) * q + skew * i    */
};

/* Pairs of bytes, I first. */
void wave_bytes(uint16_t *out, const float *re, const float *im, struct converter c, int n);

#endif
