#include "tools/plan/interval.h"

#include <math.h>

#define Z95 1.959963985         /* normal quantile of 0.975 */

/* Fewer pairs than this say little about the correlation. */
#define PAIRS_ENOUGH 100

/* A channel that never changed shows no correlation to measure. Overs of 10 s
 * every 100 s, looked at each second, have 0.89 (two-state Markov model). */
#define CORRELATION_UNSEEN 0.9

/* Below so many overs the plain interval is too narrow: 0.90 to 0.94 where it
 * promises 0.95 (simulated); the logit scale then widens it. */
#define OVERS_FEW 10

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

struct interval interval_occupancy(const struct looks *l)
{
	if (l->looks <= 0)
		return (struct interval){ 0, 1 };
	double p = (double)l->busy / (double)l->looks;
	/* However they hang together, a night is worth one independent look. */
	double n = fmax(1, interval_effective((double)l->looks, interval_correlation(l)));
	struct interval i = interval_wilson(p * n, n);

	if (p <= 0 || p >= 1 || l->overs >= OVERS_FEW)
		return i;
	/* So few looks tell little of their correlation either; then what counts is
	 * that k overs know the mean to sqrt(2/k) (exponential lengths and gaps). */
	double spread = fmin(1 / sqrt(n * p * (1 - p)),
			     sqrt(2.0 / (l->overs > 0 ? l->overs : 1)) / (1 - p));
	double at = log(p / (1 - p)), half = Z95 * spread;
	i.low = fmin(i.low, 1 / (1 + exp(half - at)));
	i.high = fmax(i.high, 1 / (1 + exp(-half - at)));
	return i;
}
