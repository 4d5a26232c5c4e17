#ifndef BANDCENSUS_DSP_DENSITY_H
#define BANDCENSUS_DSP_DENSITY_H

#include <stdint.h>

/* What the shape of a power density tells, bin by bin, from and to among the bins; noise is
 * the noise in each. */

/* Position in bins below which a share of the power above the noise lies. */
double density_quantile(const double *psd, int from, int to, double noise, double share);

/* Flatness of bins smoothed by five: geometric over arithmetic mean, less what the mean of so
 * many frames of noise under Hann's window would lack by chance. 0: fewer than five bins. */
double density_flatness(const double *psd, int from, int to, double noise, int frames);

/* From the first to the last bin, smoothed by three, that is less than 26 dB below the
 * strongest. psd[from - 1] and psd[to + 1] are there. */
int density_width_26db(const double *psd, int from, int to, double noise);

/* Position in a histogram of n steps below which a share of the counts lies. */
double density_count_quantile(const uint32_t *count, int n, double share);

#endif
