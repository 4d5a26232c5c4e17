#include <assert.h>
#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/emission.h"
#include "dsp/spectrum.h"

#define LOWER_BY   3.33         /* output rate in measured widths                     */
#define TAPS       6            /* filter length in output samples                    */
#define PASS       0.63         /* half width passed, in measured widths              */
#define OUT_MAX    2048         /* output samples measured at most                    */
#define LINES_MAX  512          /* spectral lines looked at                           */
#define FLAT_HZ    2500.0       /* half the width whose flatness counts               */

struct probe {
	int32_t              rate_hz;
	size_t               n;
	const struct block  *block;
	float               *iq;        /* [2 n] full scale 1, mean off                */
	float               *tap;       /* low-pass, then turned to the offset: re, im */
	size_t               tap_room;
	float _Complex       out[OUT_MAX];
	double               hertz[OUT_MAX];
	double               line[LINES_MAX];
};

struct probe *probe_create(int32_t rate_hz, size_t n)
{
	struct probe *p = calloc(1, sizeof *p);
	if (!p)
		return NULL;
	p->rate_hz = rate_hz;
	p->n = n;
	p->iq = malloc(2 * n * sizeof *p->iq);
	p->tap_room = (size_t)rate_hz / 1000;   /* the narrowest measured width is 1.5 kHz */
	p->tap_room = p->tap_room * 2 + 64;
	p->tap = malloc(3 * p->tap_room * sizeof *p->tap);
	if (!p->iq || !p->tap) {
		probe_destroy(p);
		return NULL;
	}
	return p;
}

void probe_destroy(struct probe *p)
{
	if (!p)
		return;
	free(p->iq);
	free(p->tap);
	free(p);
}

void probe_load(struct probe *p, const struct block *b)
{
	float _Complex mean = block_mean(b);
	size_t n = b->n < p->n ? b->n : p->n;

	p->block = b;
	block_floats(b, 0, n, mean, p->iq);
}

/* A Kaiser-windowed low-pass, unit gain at zero. Returns its noise bandwidth in
 * hertz. */
static double low_pass(float *tap, int n, double half_hz, double rate_hz)
{
	double sum = 0, squares = 0;

	window_fill(tap, n, WINDOW_KAISER, 6);
	for (int i = 0; i < n; i++) {
		double t = i - 0.5 * (n - 1), x = 2 * M_PI * half_hz / rate_hz * t;
		tap[i] = (float)(tap[i] * (t == 0 ? 1 : sin(x) / x));
		sum += tap[i];
	}
	for (int i = 0; i < n; i++) {
		tap[i] = (float)(tap[i] / sum);
		squares += (double)tap[i] * tap[i];
	}
	return squares * rate_hz;
}

/* tap * exp(-j turn i), by rotation. */
static void turn_taps(const float *tap, int n, double turn, float *re, float *im)
{
	double complex at = 1, by = cexp(-I * turn);
	for (int i = 0; i < n; i++) {
		re[i] = tap[i] * (float)creal(at);
		im[i] = tap[i] * (float)cimag(at);
		at *= by;
	}
}

static float complex filter_one(const float *iq, const float *re, const float *im, int n)
{
	float a = 0, b = 0, c = 0, d = 0;
	for (int i = 0; i < n; i++) {
		a += iq[2 * i] * re[i];
		b += iq[2 * i + 1] * im[i];
		c += iq[2 * i] * im[i];
		d += iq[2 * i + 1] * re[i];
	}
	return (a - b) + I * (c + d);
}

/* Shifts, filters and lowers the rate. Returns the number of samples in p->out. */
static int zoom(struct probe *p, double offset_hz, double measured_hz, size_t from, size_t to,
		double *rate, double *noise_hz)
{
	int by = (int)(p->rate_hz / (LOWER_BY * measured_hz)), n = 0;
	by = by < 1 ? 1 : by;
	int taps = TAPS * by + 1;
	taps = taps > (int)p->tap_room ? (int)p->tap_room : taps;
	double turn = 2 * M_PI * offset_hz / p->rate_hz;
	float *re = p->tap + p->tap_room, *im = re + p->tap_room;

	*noise_hz = low_pass(p->tap, taps, PASS * measured_hz, p->rate_hz);
	*rate = (double)p->rate_hz / by;
	turn_taps(p->tap, taps, turn, re, im);
	double complex at = 1, step = cexp(-I * turn * by);
	for (size_t i = from; i + (size_t)taps <= to && n < OUT_MAX; i += (size_t)by) {
		p->out[n++] = filter_one(p->iq + 2 * i, re, im, taps) * (float complex)at;
		at *= step;
	}
	return n;
}

static void measure_envelope(const struct probe *p, int n, double n0, struct traits *t)
{
	double mean = 0, square = 0;

	for (int i = 0; i < n; i++) {
		double q = crealf(p->out[i]) * crealf(p->out[i]) + cimagf(p->out[i]) * cimagf(p->out[i]);
		mean += q / n;
		square += q * q / n;
	}
	double s = fmax(mean - n0, 1e-30);
	t->snr = s / fmax(n0, 1e-30);
	t->envelope = (square - mean * mean - n0 * n0 - 2 * n0 * s) / (s * s);
}

/* Powers of the lines 1/T apart over the measured width; the strongest with its
 * two neighbours on either side is the carrier's share. */
static void measure_lines(struct probe *p, int n, double rate, double measured_hz, double n0,
			  double noise_hz, struct traits *t)
{
	int half = (int)(0.5 * measured_hz * n / rate), best = 0;
	half = 2 * half + 1 > LINES_MAX ? (LINES_MAX - 1) / 2 : half;
	int lines = 2 * half + 1;

	for (int k = 0; k < lines; k++) {
		double complex sum = 0, at = 1, by = cexp(-2 * I * M_PI * (k - half) / n);
		for (int i = 0; i < n; i++, at *= by)
			sum += p->out[i] * at;
		p->line[k] = (creal(sum) * creal(sum) + cimag(sum) * cimag(sum)) / n / n;
		if (p->line[k] > p->line[best])
			best = k;
	}
	double power = 0, noise = n0 / noise_hz * rate / n, logs = 0, sum = 0;
	for (int k = best - 2; k <= best + 2; k++)
		if (k >= 0 && k < lines)
			power += p->line[k] - noise;
	t->line = power / (t->snr * fmax(n0, 1e-30));
	/* Flatness of the middle, of lines smoothed by five: data that fits 12.5 kHz fills
	 * it, also when a wider channel was filtered out. */
	int reach = (int)(fmin(FLAT_HZ, measured_hz / 3) * n / rate), m = 0;
	reach = reach > half ? half : reach;
	for (int k = half - reach; k + 5 <= half + reach + 1; k += 5, m++) {
		double s = p->line[k] + p->line[k + 1] + p->line[k + 2] + p->line[k + 3] + p->line[k + 4];
		logs += log(s + 1e-30);
		sum += s;
	}
	t->flatness = m ? exp(logs / m) / fmax(sum / m, 1e-30) : 0;
}

/* Frequency over time, smoothed to about 3 kHz of a 7.5 kHz channel. */
static void measure_swing(struct probe *p, int n, double rate, struct traits *t)
{
	int smooth = 4, m = 0;
	double mean = 0, var = 0, fourth = 0;

	for (int i = 0; i + smooth < n; i++) {
		double complex sum = 0;
		for (int k = i; k < i + smooth; k++)
			sum += p->out[k + 1] * conjf(p->out[k]);
		p->hertz[m] = carg(sum) * rate / (2 * M_PI);
		mean += p->hertz[m++];
	}
	mean /= m > 0 ? m : 1;
	for (int i = 0; i < m; i++) {
		double d = (p->hertz[i] - mean) * (p->hertz[i] - mean);
		var += d / m;
		fourth += d * d / m;
	}
	t->swing_hz = sqrt(var);
	t->kurtosis = var > 0 ? fourth / (var * var) : 0;
}

void probe_measure(struct probe *p, double offset_hz, double measured_hz, double noise,
		   size_t from, size_t to, struct traits *out)
{
	double rate, noise_hz;

	memset(out, 0, sizeof *out);
	to = to > p->n ? p->n : to;
	int n = zoom(p, offset_hz, measured_hz, from, to, &rate, &noise_hz);
	if (n < 40)
		return;         /* too short to say anything: snr stays 0 */
	double n0 = noise * noise_hz;
	measure_envelope(p, n, n0, out);
	measure_lines(p, n, rate, measured_hz, n0, noise_hz, out);
	measure_swing(p, n, rate, out);
}
