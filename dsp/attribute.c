#include "dsp/attribute.h"

#include <math.h>
#include <stdbool.h>

#define EDGE_DOWN   0.0025      /* -26 dB, the customary x dB width of ITU-R SM.328 / SM.443 */
#define EDGE_SURE   4.0         /* standard deviations over the noise                       */
#define DIP_HZ      2500.0      /* a quieter stretch this wide ends a narrow emission;      */
#define DIP_SHARE   0.3         /* or this share of what was found so far                   */
#define IMAGE_DB    35.0        /* mirror images are at least this far down                 */
#define VALLEY_DOWN 0.06        /* -12 dB below the peak, and ...                           */
#define VALLEY_RISE 8.0         /* ... 9 dB up again: another emission begins               */
#define VALLEY_AWAY 0.75        /* measured widths from the peak: nearer are two tones      */
#define SKIRT_DB    10.0        /* skirts are at least this far down                        */
#define RISE        4.0         /* what stands more than 6 dB over a skirt is its own       */
#define QUIET       1.5         /* a skirt ends where the power is this near the noise      */

/* Mean of three bins, less their noise. */
static double excess(const struct look *l, const struct floor *f, int k)
{
	int a = k > 0 ? k - 1 : k, b = k < l->bins - 1 ? k + 1 : k;
	return (l->total[b + 1] - l->total[a]) / (b - a + 1) - floor_bin(f, k);
}

struct walk {
	const struct look  *look;
	const struct floor *floor;
	double sure;            /* share of the noise that excess must pass */
	double least;           /* and this                                 */
	double valley;          /* a dip below this may part two emissions  */
	int    away;            /* bins from the peak within which none does */
};

static bool inside(const struct walk *w, int k)
{
	double e = excess(w->look, w->floor, k);
	return e > w->least && e > w->sure * floor_bin(w->floor, k);
}

/* Last bin of the emission in direction step (+1 or -1) from its peak. */
static int walk_out(const struct walk *w, int peak, int step)
{
	int last = peak, lowest = peak;
	double low = HUGE_VAL;

	for (int k = peak + step; k >= 0 && k < w->look->bins; k += step) {
		double e = excess(w->look, w->floor, k);
		if (e < low) {
			low = e;
			lowest = k;
		}
		if (low < w->valley && e > VALLEY_RISE * fmax(low, 0) &&
		    e > w->sure * floor_bin(w->floor, k) && (k - peak) * step > w->away)
			return lowest * step < last * step ? lowest : last;
		if (inside(w, k))
			last = k;
		double dip = fmax(DIP_HZ / w->look->bin_hz, DIP_SHARE * 2 * (last - peak) * step);
		if ((k - last) * step > dip)
			break;
	}
	return last;
}

static int clamp_bin(const struct look *l, double position)
{
	int k = (int)floor(position);
	return k < 0 ? 0 : k >= l->bins ? l->bins - 1 : k;
}

/* Centroid and 99 % width of the excess power in bins a .. b. */
static void weigh(const struct look *l, const struct floor *f, int a, int b, struct extent *e)
{
	double sum = 0, moment = 0, part = 0, low = a, high = b + 1;
	bool below = true;

	for (int k = a; k <= b; k++) {
		double p = l->total[k + 1] - l->total[k] - floor_bin(f, k);
		sum += p > 0 ? p : 0;
		moment += p > 0 ? p * (k + 0.5) : 0;
	}
	e->power = sum;
	e->centroid = sum > 0 ? moment / sum : 0.5 * (a + b + 1);
	for (int k = a; k <= b; k++) {
		double p = l->total[k + 1] - l->total[k] - floor_bin(f, k);
		if (p <= 0)
			continue;
		if (below && part + p >= 0.005 * sum) {
			low = k + (0.005 * sum - part) / p;
			below = false;
		}
		if (part + p >= 0.995 * sum) {
			high = k + (0.995 * sum - part) / p;
			break;
		}
		part += p;
	}
	e->width = high - low;
}

struct extent attribute_measure(const struct look *l, const struct floor *f, double freedom,
				double from, double to)
{
	int a = clamp_bin(l, from), b = clamp_bin(l, to), peak = a;
	struct walk w = { l, f, EDGE_SURE / sqrt(freedom), 0, 0, (int)(VALLEY_AWAY * (to - from)) };
	struct extent e = { 0 };

	for (int k = a; k <= b; k++)
		if (excess(l, f, k) > excess(l, f, peak))
			peak = k;
	w.least = EDGE_DOWN * excess(l, f, peak);
	w.valley = VALLEY_DOWN * excess(l, f, peak);
	int low = walk_out(&w, peak, -1), high = walk_out(&w, peak, +1);
	/* A weak one hides its ends: weigh no less than the part it was found in,
	 * first where it was found, then about its own middle. */
	double half = 0.5 * (to - from);
	weigh(l, f, low < a ? low : a, high > b ? high : b, &e);
	double middle = e.centroid;
	a = clamp_bin(l, middle - half);
	b = clamp_bin(l, middle + half - 1e-9);
	weigh(l, f, low < a ? low : a, high > b ? high : b, &e);
	e.from = low;
	e.to = high + 1;
	return e;
}

/* How far below an emission its leakage, the synthesiser's noise and the products
 * of an 8-bit converter stay, by distance from its edge in hertz: transmitter
 * skirts are -51 to -58 dB a channel away, and one look's clean range ends at
 * about 50 dB. */
static double spill_db(double away_hz, double width_hz)
{
	return away_hz < fmax(width_hz, 12500) ? 45 : 50;
}

static double apart(double from, double to, const struct extent *e)
{
	return from > e->to ? from - e->to : to < e->from ? e->from - to : 0;
}

/* A skirt (keying clicks, splatter) falls away from its emission and never rises:
 * what stands hardly over the lowest power on the way there belongs to it, unless
 * the way leads through quiet. */
static bool on_skirt(const struct hearing *h, const struct extent *e, double from, double to,
		     double power)
{
	double wide = to - from, lowest = power;
	int steps = (int)(apart(from, to, e) / (0.5 * wide));

	for (int i = 1; i < steps; i++) {
		double a = from > e->to ? e->to + 0.5 * wide * (i - 1) :
					  e->from - 0.5 * wide * (i + 1);
		double p = look_power(h->look->total, h->look->bins, a, a + wide);
		if (p < QUIET * floor_power(h->floor, a, a + wide))
			return false;
		lowest = fmin(lowest, p);
	}
	return power <= RISE * lowest;
}

enum explained attribute_explain(const struct hearing *h, double from, double to, double power)
{
	const struct look *l = h->look;

	for (int i = 0; i < h->n; i++) {
		const struct extent *e = &h->extent[i];
		double down = 10 * log10(e->power / power);
		double away = apart(from, to, e) * l->bin_hz;
		if (down > spill_db(away, (e->to - e->from) * l->bin_hz))
			return EXPLAINED_SKIRT;
		if (down > SKIRT_DB && on_skirt(h, e, from, to, power))
			return EXPLAINED_SKIRT;
		if (h->strained_db > 0 && i == 0 && down > h->strained_db)
			return EXPLAINED_SKIRT;
		/* Bins mirror about position bins/2 + 1/2, the middle of the centre bin. */
		double turn = l->bins + 1;
		struct extent mirror = { .from = turn - e->to, .to = turn - e->from };
		if (down > IMAGE_DB && apart(from, to, &mirror) == 0)
			return EXPLAINED_IMAGE;
	}
	return EXPLAINED_NOT;
}
