#ifndef BANDCENSUS_DSP_WINDOW_H
#define BANDCENSUS_DSP_WINDOW_H

/* Windows, periodic (the point after the last would be the first again).
 * Harris 1978; Kaiser's with beta = pi * alpha. */
enum window_shape {
	WINDOW_RECTANGULAR = 0,
	WINDOW_HANN,
	WINDOW_HAMMING,
	WINDOW_BLACKMAN,
	WINDOW_BLACKMAN_HARRIS,         /* four terms, -92 dB */
	WINDOW_KAISER,
	WINDOW_SHAPES
};

/* Kaiser 8 is the default: nothing beyond it buys anything that an 8-bit
 * converter and a real transmitter's skirts would show. */
#define WINDOW_BETA 8.0

/* beta is read by WINDOW_KAISER alone. n > 0. */
void window_fill(float *w, int n, enum window_shape shape, double beta);

/* Equivalent noise bandwidth in bins: n * sum w^2 / (sum w)^2. */
double window_noise_bins(const float *w, int n);

/* |sum_i w[i] w[i+lag] exp(-j 2 pi d i/n)|^2 / (sum w^2)^2: how much the powers
 * of two bins d apart, lag samples apart, move together. d may be any sign. */
double window_overlap(const float *w, int n, int lag, int d);

/* Complex degrees of freedom of the power summed over a stretch `bins` wide that
 * starts `from` (0 .. 1) into its first bin, and over `transforms` transforms
 * `hop` samples apart (Welch 1967, with the bins' own correlation): its mean
 * over its standard deviation, squared. */
double window_freedom(const float *w, int n, int hop, int transforms, double from, double bins);

#endif
