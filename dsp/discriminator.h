#ifndef BANDCENSUS_DSP_DISCRIMINATOR_H
#define BANDCENSUS_DSP_DISCRIMINATOR_H

#include <stddef.h>

/* An FM detector for complex baseband that comes in pieces. All zero: afresh. */
struct discriminator {
	float _Complex last;
};

/* hz[i]: the frequency between sample i and the one before, which for the first is the
 * last of the piece before (0 when afresh). A sample without power reads 0. */
void discriminator_feed(struct discriminator *d, const float _Complex *x, size_t n,
			double rate_hz, float *hz);

#endif
