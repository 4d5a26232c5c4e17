#include "dsp/law.h"

#include <assert.h>
#include <complex.h>
#include <math.h>
#include <stdlib.h>

#define FAR_BINS 16             /* bins this far apart share nothing                    */
#define TRACES   4
#define ONE_LAW  1e-9           /* less spread than this: all the exponentials are alike */

/* What the powers of a look's bins share: their covariance, wide bins for each transform. */
struct share {
	int             wide, lags, hop, n;
	double          from, bins;
	double complex *overlap;        /* [lags + 1][2 FAR_BINS - 1]               */
	double complex *c, *square;     /* [size][size]                             */
	int             size;
};

/* sum_i w[i] w[i + lag] exp(-j 2 pi d i/n) over the window's energy. */
static double complex overlap_of(const float *w, int n, int lag, int d)
{
	double complex sum = 0;
	double energy = 0;

	for (int i = 0; i < n; i++)
		energy += (double)w[i] * w[i];
	for (int i = 0; i + lag < n; i++)
		sum += (double)w[i] * w[i + lag] * cexp(-2 * I * M_PI * ((double)d * i / n));
	return sum / energy;
}

static double weight(const struct share *s, int bin)
{
	return fmax(fmin(bin + 1, s->from + s->bins) - fmax(bin, s->from), 0);
}

/* Between bin k of transform t and bin l of transform u <= t. */
static double complex both(const struct share *s, int t, int k, int u, int l)
{
	int d = l - k, lag = t - u;

	if (lag > s->lags || abs(d) >= FAR_BINS)
		return 0;
	double turn = fmod((double)d * t * s->hop / s->n, 1);
	double complex z = s->overlap[lag * (2 * FAR_BINS - 1) + d + FAR_BINS - 1];
	return sqrt(weight(s, k) * weight(s, l)) * z * cexp(-2 * I * M_PI * turn);
}

static void covary(struct share *s, int transforms)
{
	s->size = s->wide * transforms;
	for (int i = 0; i < s->size; i++)
		for (int j = 0; j <= i; j++) {
			double complex z =
				both(s, i / s->wide, i % s->wide, j / s->wide, j % s->wide);
			s->c[i * s->size + j] = z;
			s->c[j * s->size + i] = conj(z);
		}
}

static void square(const struct share *s)
{
	int size = s->size;

	for (int i = 0; i < size * size; i++)
		s->square[i] = 0;
	for (int i = 0; i < size; i++)
		for (int k = 0; k < size; k++) {
			double complex z = s->c[i * size + k];
			if (z == 0)
				continue;
			for (int j = 0; j < size; j++)
				s->square[i * size + j] += z * s->c[k * size + j];
		}
}

/* Traces of the first four powers of the covariance: its cumulants but for a factor. */
static void traces(struct share *s, int transforms, double trace[TRACES])
{
	covary(s, transforms);
	square(s);
	for (int r = 0; r < TRACES; r++)
		trace[r] = 0;
	for (int i = 0; i < s->size; i++)
		trace[0] += creal(s->c[i * s->size + i]);
	for (int i = 0; i < s->size * s->size; i++) {
		trace[1] += creal(s->c[i] * conj(s->c[i]));
		trace[2] += creal(s->square[i] * conj(s->c[i]));
		trace[3] += creal(s->square[i] * conj(s->square[i]));
	}
}

/* The two points and weights that have the same moments (Gauss's quadrature). */
static struct law law_from(const double trace[TRACES])
{
	const double *m = trace;
	double det = m[0] * m[2] - m[1] * m[1];
	struct law law = { .shape = { m[0] * m[0] / m[1], 0 } };

	if (det > ONE_LAW * m[1] * m[1]) {
		double b = (m[0] * m[3] - m[1] * m[2]) / det, c = (m[1] * m[3] - m[2] * m[2]) / det;
		double root = sqrt(b * b - 4 * c);
		for (int i = 0; i < 2; i++) {
			double at = 0.5 * (i ? b - root : b + root), other = b - at;
			law.scale[i] = at / m[0];
			law.shape[i] = (m[1] - other * m[0]) / (at - other) / at;
		}
		return law;
	}
	law.scale[0] = 1 / law.shape[0];
	return law;
}

bool law_of_noise(struct law *law, const float *window, int n, int hop, int transforms,
		  double from, double bins)
{
	struct share s = { .wide = (int)ceil(from + bins), .lags = (n + hop - 1) / hop - 1,
			   .hop = hop, .n = n, .from = from, .bins = bins };
	/* Past so many transforms each more brings as much as the one before. */
	int few = s.lags > 0 ? 2 * s.lags : 1, most = transforms <= few ? transforms : few + 1;
	size_t size = (size_t)s.wide * (size_t)most;
	bool done = false;
	double trace[TRACES], next[TRACES];

	s.overlap = calloc((size_t)(s.lags + 1) * (2 * FAR_BINS - 1), sizeof *s.overlap);
	s.c = calloc(size * size, sizeof *s.c);
	s.square = calloc(size * size, sizeof *s.square);
	if (!s.overlap || !s.c || !s.square)
		goto out;
	for (int lag = 0; lag <= s.lags; lag++)
		for (int d = 1 - FAR_BINS; d < FAR_BINS; d++)
			s.overlap[lag * (2 * FAR_BINS - 1) + d + FAR_BINS - 1] =
				overlap_of(window, n, lag * hop, d);
	traces(&s, most <= few ? most : few, trace);
	if (most > few) {
		traces(&s, few + 1, next);
		for (int r = 0; r < TRACES; r++)
			trace[r] += (transforms - few) * (next[r] - trace[r]);
	}
	*law = law_from(trace);
	done = true;
out:
	free(s.overlap);
	free(s.c);
	free(s.square);
	return done;
}

/* ---- the tail, by its saddlepoint (Lugannani and Rice 1980, from memory) ---- */

struct saddle {
	double x;               /* the point whose saddle it is */
	double above;           /* the chance of passing it     */
};

static struct saddle saddle_at(const struct law *law, double s)
{
	double k = 0, first = 0, second = 0;

	for (int i = 0; i < 2; i++) {
		double t = 1 - law->scale[i] * s, q = law->scale[i] / t;
		k -= law->shape[i] * log(t);
		first += law->shape[i] * q;
		second += law->shape[i] * q * q;
	}
	double w = sqrt(2 * (s * first - k)), u = s * sqrt(second);
	return (struct saddle){ first, 0.5 * erfc(w / M_SQRT2) +
				exp(-w * w / 2) / sqrt(2 * M_PI) * (1 / u - 1 / w) };
}

static double steepest(const struct law *law)
{
	return 1 / fmax(law->scale[0], law->scale[1]);
}

/* By bisection: slow, sure, and only done when sizes are set. */
double law_above(const struct law *law, double x)
{
	double low = 0, high = steepest(law);

	assert(x > 1);
	for (int i = 0; i < 100; i++) {
		double mid = 0.5 * (low + high);
		if (saddle_at(law, mid).x < x)
			low = mid;
		else
			high = mid;
	}
	return saddle_at(law, low).above;
}

double law_threshold(const struct law *law, double pfa)
{
	double low = 0, high = steepest(law);

	assert(pfa > 0 && pfa <= 0.2);
	for (int i = 0; i < 100; i++) {
		double mid = 0.5 * (low + high);
		if (saddle_at(law, mid).above > pfa)
			low = mid;
		else
			high = mid;
	}
	return saddle_at(law, low).x;
}
