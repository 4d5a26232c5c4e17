#ifndef BANDCENSUS_DSP_LAW_H
#define BANDCENSUS_DSP_LAW_H

#include <stdbool.h>

/* How the power of noise in a stretch of bins is spread. It is a sum of exponential
 * variables that are not alike, for half overlapped transforms and neighbouring bins
 * share noise. Taken for the sum of two gamma variables with the same first four
 * cumulants, which leaves a few per cent of the chance at 1e-6 and a fifth at 1e-10; one
 * gamma of the same mean and variance is passed three times too often at 1e-6. */
struct law {
	double shape[2], scale[2];      /* the mean, sum of shape * scale, is 1; a shape may be 0 */
};

/* Of mean noise power in a stretch `bins` wide that starts `from` (0 .. 1) into its first
 * bin, over `transforms` transforms of n points, `hop` samples apart. false: no memory. */
bool law_of_noise(struct law *law, const float *window, int n, int hop, int transforms,
		  double from, double bins);

/* The chance that noise passes x mean noise powers, x > 1 and up to 0.1 of the chance. */
double law_above(const struct law *law, double x);

/* What noise passes with chance pfa, 0 < pfa <= 0.2, in mean noise powers. */
double law_threshold(const struct law *law, double pfa);

#endif
