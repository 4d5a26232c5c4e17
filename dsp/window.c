#include "dsp/window.h"

#include <assert.h>
#include <complex.h>
#include <math.h>
#include <stdlib.h>

/* Terms of a0 - a1 cos x + a2 cos 2x - a3 cos 3x (Harris 1978, table I). */
static const double terms[WINDOW_SHAPES][4] = {
	[WINDOW_RECTANGULAR]     = { 1.0 },
	[WINDOW_HANN]            = { 0.5, 0.5 },
	[WINDOW_HAMMING]         = { 0.54, 0.46 },
	[WINDOW_BLACKMAN]        = { 0.42, 0.5, 0.08 },
	[WINDOW_BLACKMAN_HARRIS] = { 0.35875, 0.48829, 0.14128, 0.01168 },
};

/* Modified Bessel function of the first kind, order 0, by its power series. */
static double bessel_i0(double x)
{
	double sum = 1, term = 1;
	for (int k = 1; term > 1e-17 * sum; k++) {
		term *= (x / (2 * k)) * (x / (2 * k));
		sum += term;
	}
	return sum;
}

static double kaiser(int i, int n, double beta)
{
	double r = 2.0 * i / n - 1;
	return bessel_i0(beta * sqrt(1 - r * r)) / bessel_i0(beta);
}

void window_fill(float *w, int n, enum window_shape shape, double beta)
{
	assert(n > 0 && shape < WINDOW_SHAPES);
	for (int i = 0; i < n; i++) {
		double x = 2 * M_PI * i / n;
		const double *a = terms[shape];
		w[i] = (float)(shape == WINDOW_KAISER ? kaiser(i, n, beta) :
			a[0] - a[1] * cos(x) + a[2] * cos(2 * x) - a[3] * cos(3 * x));
	}
}

static double sum_squares(const float *w, int n)
{
	double s = 0;
	for (int i = 0; i < n; i++)
		s += (double)w[i] * w[i];
	return s;
}

double window_noise_bins(const float *w, int n)
{
	double s = 0;
	for (int i = 0; i < n; i++)
		s += w[i];
	return n * sum_squares(w, n) / (s * s);
}

double window_overlap(const float *w, int n, int lag, int d)
{
	double complex s = 0;
	for (int i = 0; i + lag < n; i++)
		s += (double)w[i] * w[i + lag] * cexp(-2 * I * M_PI * d * i / n);
	double r = cabs(s) / sum_squares(w, n);
	return r * r;
}

/* The part of bin i that lies between two positions. */
static double bin_weight(int i, double from, double to)
{
	return fmax(fmin(i + 1, to) - fmax(i, from), 0);
}

double window_freedom(const float *w, int n, int hop, int transforms, double from, double bins)
{
	double to = from + bins;
	int wide = (int)ceil(to), lags = (n + hop - 1) / hop - 1;
	double variance = 0;

	if (lags > transforms - 1)
		lags = transforms - 1;
	for (int m = 0; m <= lags; m++) {
		double pairs = (m ? 2.0 : 1.0) * (transforms - m);
		for (int d = 1 - wide; d < wide && d < 16; d++) {
			if (d < -15)
				continue;       /* bins this far apart share nothing */
			double both = 0;
			for (int i = d < 0 ? -d : 0; i < wide && i + d < wide; i++)
				both += bin_weight(i, from, to) * bin_weight(i + d, from, to);
			variance += pairs * both * window_overlap(w, n, m * hop, d);
		}
	}
	double mean = transforms * bins;
	return mean * mean / variance;
}
