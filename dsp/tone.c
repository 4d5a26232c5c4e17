#include "dsp/tone.h"

#include <assert.h>
#include <complex.h>
#include <math.h>

/* The common list of 38 and the twelve that longer lists have besides: read in equipment
 * manuals and data sheets of tone chips, but 165.5, 171.3 and 177.3 from memory. */
static const int16_t tones[TONES] = {
	670, 693, 719, 744, 770, 797, 825, 854, 885, 915, 948, 974, 1000, 1035, 1072, 1109, 1148,
	1188, 1230, 1273, 1318, 1365, 1413, 1462, 1514, 1567, 1598, 1622, 1655, 1679, 1713, 1738,
	1773, 1799, 1835, 1862, 1899, 1928, 1966, 1995, 2035, 2065, 2107, 2181, 2257, 2291, 2336,
	2418, 2503, 2541,
};

int32_t tone_ddhz(int i)
{
	assert(i >= 0 && i < TONES);
	return tones[i];
}

/* Encoders are up to half a percent off: so far to either side it is tried as well. */
#define ASTRAY 0.0033

/* Sum over i < n of exp(j w i). */
static double complex ring(double w, int n)
{
	if (fabs(remainder(w, 2 * M_PI)) < 1e-9)
		return n;
	return (1 - cexp(I * w * n)) / (1 - cexp(I * w));
}

/* Power of a cos + b sin at hz that least squares find beside a constant; *peak: its
 * amplitude. sum: of x. */
static double sine_power(const float *x, int n, double sum, double hz, double rate_hz, double *peak)
{
	double w = 2 * M_PI * hz / rate_hz, c = 0, s = 0;
	double complex at = 1, by = cexp(I * w);

	for (int i = 0; i < n; i++, at *= by) {
		c += x[i] * creal(at);
		s += x[i] * cimag(at);
	}
	/* Normal equations with the constant taken out beforehand. */
	double complex one = ring(w, n), two = ring(2 * w, n);
	double m = n, cc = (m + creal(two)) / 2 - creal(one) * creal(one) / m;
	double ss = (m - creal(two)) / 2 - cimag(one) * cimag(one) / m;
	double cs = cimag(two) / 2 - creal(one) * cimag(one) / m;
	double det = cc * ss - cs * cs;
	c -= creal(one) * sum / m;
	s -= cimag(one) * sum / m;
	double a = (ss * c - cs * s) / det, b = (cc * s - cs * c) / det;
	*peak = hypot(a, b);
	return (a * c + b * s) / m;
}

/* Power about the mean; *sum of x. */
static double spread(const float *x, int n, double *sum)
{
	double square = 0;

	*sum = 0;
	for (int i = 0; i < n; i++) {
		*sum += x[i];
		square += (double)x[i] * x[i];
	}
	return square / n - *sum * *sum / n / n;
}

/* The top of a parabola through three powers a little apart. */
static double found_hz(const float *x, int n, double sum, double hz, double rate_hz)
{
	double step = 0.25 * rate_hz / n, peak, p[3];

	for (int k = 0; k < 3; k++)
		p[k] = sine_power(x, n, sum, hz + (k - 1) * step, rate_hz, &peak);
	double bend = p[0] - 2 * p[1] + p[2];
	return hz + (bend < 0 ? fmax(fmin(0.5 * (p[0] - p[2]) / bend, 4), -4) * step : 0);
}

struct tone_fit tone_fit(const float *x, int n, double rate_hz, double explained[TONES])
{
	struct tone_fit f = { 0 };
	double sum, all = fmax(spread(x, n, &sum), 1e-9), most = -1;

	assert(rate_hz > 600 && n > rate_hz / 20);
	for (int k = 0; k < TONES; k++) {
		explained[k] = 0;
		for (int off = -1; off <= 1; off++) {
			double peak, hz = tones[k] / 10.0 * (1 + off * ASTRAY);
			double p = sine_power(x, n, sum, hz, rate_hz, &peak);
			explained[k] = fmax(explained[k], p);
			if (p <= most)
				continue;
			most = p;
			f = (struct tone_fit){
				.best = k, .share = p / all, .peak_hz = peak, .hz = hz
			};
		}
	}
	f.hz = found_hz(x, n, sum, f.hz, rate_hz);
	return f;
}
