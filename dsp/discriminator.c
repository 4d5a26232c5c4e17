#include "dsp/discriminator.h"

#include <complex.h>
#include <math.h>

void discriminator_feed(struct discriminator *d, const float complex *x, size_t n,
			double rate_hz, float *hz)
{
	float by = (float)(rate_hz / (2 * M_PI));

	for (size_t i = 0; i < n; i++) {
		hz[i] = by * cargf(x[i] * conjf(d->last));
		d->last = x[i];
	}
}
