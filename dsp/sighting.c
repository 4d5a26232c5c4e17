#include "dsp/sighting.h"

#include <stdlib.h>

#include "dsp/chance.h"

#define SURE_PFA   1e-5         /* that noise alone is called seen                       */
#define SURE_DB    1.5          /* over the noise at least: the noise beside it is known */
#define NOISE_DB   0.3          /* to about this, one sigma                              */
#define RIPPLE_DB  0.3          /* and gain repeats itself to this                       */
#define CLIPPED    0.001        /* of the samples: levels are no longer true             */
#define INSIDE     0.49         /* of the rate, from the centre                          */
#define BESIDE_HZ  40e3         /* noise is read this far to either side, or twice ...   */
				/* ... the width where that is more                      */
#define LOBE       2            /* bins on either side of a line's peak that hold it     */
#define MIDDLE     4            /* bins about the tuner's centre that are made up        */
#define BINS_MOST  2048

static int ascending(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;
	return (x > y) - (x < y);
}

static double bin_power(const struct look *l, int k)
{
	return l->total[k + 1] - l->total[k];
}

/* Freedom of what lies between two edges of a look's total. */
static double freedom(const struct look *l, const float *window, int hop, double from,
		      double bins)
{
	return window_freedom(window, l->bins, hop,
			      l->good < l->slices ? l->slice_transforms * l->good : l->transforms,
			      from - floor(from), bins);
}

/* Noise of a bin: lower quartile of those beside, so that up to half may be busy. */
static double noise_beside(const struct look *l, const float *window, int hop, double from,
			   double to)
{
	double power[BINS_MOST], guard = fmax(4, 0.25 * (to - from));
	double reach = fmax(BESIDE_HZ / l->bin_hz, 2 * (to - from));
	int n = 0, low = (int)(from - guard - reach), high = (int)(to + guard + reach);

	for (int k = low < 0 ? 0 : low; k < l->bins && k <= high && n < BINS_MOST; k++)
		if (k + 1 < from - guard || k > to + guard)
			power[n++] = bin_power(l, k);
	if (n == 0)
		return 0;
	qsort(power, (size_t)n, sizeof *power, ascending);
	return power[n / 4] / chance_quantile(freedom(l, window, hop, 0, 1), 0.25);
}

/* Where it is and how much of it is one line; bins [a, b]. */
static void weigh(const struct look *l, double noise, int a, int b, struct sighting *out)
{
	double sum = 0, moment = 0, line = 0, line_moment = 0;
	int peak = a;

	for (int k = a; k <= b; k++)
		if (bin_power(l, k) > bin_power(l, peak))
			peak = k;
	for (int k = a - LOBE; k <= b + LOBE; k++) {
		double p = k < 0 || k >= l->bins ? 0 : bin_power(l, k) - noise;
		bool in_lobe = abs(k - peak) <= LOBE;
		if (in_lobe) {
			line += p;
			line_moment += p * (k + 0.5);
		}
		if (in_lobe || (k >= a && k <= b)) {
			sum += p;
			moment += p * (k + 0.5);
		}
	}
	out->line = sum > 0 ? fmin(1, fmax(0, line / sum)) : 0;
	double at = out->line > 0.8 ? line_moment / line : sum > 0 ? moment / sum : peak;
	out->hz = freq_to_hz(l->centre) + (at - 0.5 * l->bins - 0.5) * l->bin_hz;
}

static double decibels(double power)
{
	return 10 * log10(power);
}

struct sighting sighting_take(const struct look *l, const float *window, int hop, double hz,
			      double wide_hz)
{
	struct sighting out = { 0 };
	double off = hz - freq_to_hz(l->centre), half = wide_hz / 2;
	double rate = l->bins * l->bin_hz, from = look_edge(l, off - half);
	double to = look_edge(l, off + half);

	if (!look_holds(l) || l->clipped > CLIPPED || fabs(off) + half > INSIDE * rate ||
	    fabs(off) < MIDDLE * l->bin_hz + fmin(half, BESIDE_HZ / 4))
		return out;
	double bin = noise_beside(l, window, hop, from, to), noise = bin * (to - from);
	double nu = freedom(l, window, hop, from, to - from);
	double power = look_power(l->total, l->bins, from, to);
	double sure = fmax(chance_threshold(nu, SURE_PFA), pow(10, SURE_DB / 10));
	double doubt = noise * (pow(10, NOISE_DB / 10) - 1), signal = power - noise;
	if (!(noise > 0))
		return out;
	out.tried = true;
	out.seen = power > sure * noise;
	/* Power of a steady signal amid noise: its cross product with the noise, and
	 * the noise's own (Urkowitz 1967). */
	if (!out.seen)
		signal = fmax(signal, 0) + 3 * noise / sqrt(nu) + 2 * doubt;
	double spread = sqrt((2 * signal * noise + noise * noise) / nu + doubt * doubt) / signal;
	out.sigma_db = hypot(10 / M_LN10 * spread, RIPPLE_DB);
	out.power_db = decibels(signal);
	out.over_db = decibels(signal / noise);
	weigh(l, bin, (int)from, (int)to, &out);
	return out;
}
