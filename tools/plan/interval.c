#include "tools/plan/interval.h"

#include "tools/plan/exact.h"

#include <math.h>

#define Z95 1.959963985         /* normal quantile of 0.975 */

/* Fewer pairs than this say little about the correlation. */
#define PAIRS_ENOUGH 100

/* A channel that never changed shows no correlation to measure. Overs of 10 s
 * every 100 s, looked at each second, have 0.89 (two-state Markov model). */
#define CORRELATION_UNSEEN 0.9

/* Squared coefficients of variation expected before any length was met, and how many
 * lengths that is worth: chosen by simulation (tests/test_interval.c), so that exponential
 * and log-normal lengths both come out near 0.95, rare ones too. */
#define VARIATION_OVER   1.0
#define VARIATION_GAP    2.0
#define LENGTHS_EXPECTED 10

struct interval interval_wilson(double k, double n)
{
	if (n <= 0)
		return (struct interval){ 0, 1 };
	double p = k / n, zz = Z95 * Z95;
	double centre = (k + zz / 2) / (n + zz);
	double half = Z95 / (n + zz) * sqrt(n * fmax(p * (1 - p), 0) + zz / 4);

	return (struct interval){ fmax(0, centre - half), fmin(1, centre + half) };
}

double interval_correlation(const struct looks *l)
{
	double p = l->looks > 0 ? (double)l->evidence / (double)l->looks : 0;

	if (p <= 0 || p >= 1)
		return CORRELATION_UNSEEN;
	/* Two states: P(busy, busy before) = p^2 + r p (1-p), and
	 * P(idle before | busy) = (1-p)(1-r). The second needs no pairs, and does
	 * not take the small difference of two shares near one. */
	double r;
	if (l->pairs >= PAIRS_ENOUGH && p <= 0.5)
		r = ((double)l->held / (double)l->pairs - p * p) / (p - p * p);
	else
		r = 1 - (double)l->openings / ((double)l->evidence * (1 - p));
	return fmin(fmax(r, 0), 0.9999);
}

double interval_effective(double n, double correlation)
{
	return n * (1 - correlation) / (1 + correlation);
}

void spread_add(struct spread *s, double length)
{
	s->n++;
	s->sum += length;
	s->square += length * length;
}

/* Squared coefficient of variation, drawn towards what was expected. */
static double variation(const struct spread *s, double expected)
{
	double n = s->n, mean = n > 0 ? s->sum / n : 0;

	if (n < 2 || mean <= 0)
		return expected;
	double met = fmax(0, s->square - n * mean * mean) / (mean * mean);
	return (met + LENGTHS_EXPECTED * expected) / (n - 1 + LENGTHS_EXPECTED);
}

/* Overs that the looks counted: parks see others besides, an over whose level wavers opens
 * several times, and one that never ends is handed out in pieces. */
static double counted(const struct looks *l)
{
	double overs = l->overs, openings = (double)l->openings;

	if (openings > 0 && (overs <= 0 || openings < overs))
		overs = openings;
	return fmax(1, fmin(overs, (double)l->busy));
}

/* Never on, or never off: an exact bound from one side, of looks worth so many
 * independent ones. One that comes long after the one before stands for itself. */
static struct interval one_sided(const struct looks *l)
{
	double pairs = fmin((double)l->pairs, (double)l->looks);
	double n =
		fmax(1, interval_effective(pairs, CORRELATION_UNSEEN) + (double)l->looks - pairs);
	double bound = fmin(1, POISSON_NONE / n);

	return l->busy <= 0 ? (struct interval){ 0, bound } : (struct interval){ 1 - bound, 1 };
}

struct interval interval_occupancy(const struct looks *l)
{
	if (l->looks <= 0)
		return (struct interval){ 0, 1 };
	if (l->busy <= 0 || l->busy >= l->looks)
		return one_sided(l);
	double k = counted(l), odds = (double)l->busy / (double)(l->looks - l->busy);
	double on = k / variation(&l->over, VARIATION_OVER);
	double off = k / variation(&l->gap, VARIATION_GAP);
	/* odds x (off / on) x Gamma(off) / Gamma(on), whose quantiles are those of the
	 * ratio turned over. */
	double scale = odds * on / off;
	double low = scale / odds_quantile(on, off, 0.975);
	double high = scale / odds_quantile(on, off, 0.025);

	return (struct interval){ low / (1 + low), high / (1 + high) };
}

double interval_none_hour(double chance, double time_s)
{
	return chance > 0 && time_s > 0 ? POISSON_NONE * 3600 / (chance * time_s) : INFINITY;
}
