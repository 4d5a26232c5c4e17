#include "tools/plan/exact.h"

#include "dsp/chance.h"

#include <math.h>
#include <stdbool.h>

static double log_gamma(double x)
{
	int sign;
	return lgamma_r(x, &sign);
}

/* log of x^a (1-x)^b / B(a, b) */
static double log_front(double a, double b, double x)
{
	return a * log(x) + b * log1p(-x) + log_gamma(a + b) - log_gamma(a) - log_gamma(b);
}

/* Continued fraction of the incomplete beta function (Abramowitz and Stegun
 * 26.5.8, from memory), forwards after Lentz; quick below the mean. */
static double fraction(double a, double b, double x)
{
	double c = 1, d = 1 - (a + b) * x / (a + 1);
	d = 1 / (d != 0 ? d : 1e-300);
	double h = d;

	for (int m = 1; m < 10000; m++) {
		double even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
		double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
		d = 1 / (1 + even * d);
		c = 1 + even / c;
		h *= c * d;
		d = 1 / (1 + odd * d);
		c = 1 + odd / c;
		h *= c * d;
		if (fabs(c * d - 1) < 1e-14)
			break;
	}
	return h;
}

double beta_below(double a, double b, double x)
{
	if (x <= 0)
		return 0;
	if (x >= 1)
		return 1;
	double front = exp(log_front(a, b, x));
	if (x < (a + 1) / (a + b + 2))
		return front * fraction(a, b, x) / a;
	return 1 - front * fraction(b, a, 1 - x) / b;
}

/* Paulson 1942: the cube root of an F variable is nearly a ratio of two normal
 * ones; the odds are F times a/b. */
static double odds_nearly(double a, double b, double z)
{
	double u = 1 / (9 * a), v = 1 / (9 * b);
	double low = (1 - v) * (1 - v) - z * z * v, mid = (1 - u) * (1 - v);
	double root = mid * mid - low * ((1 - u) * (1 - u) - z * z * u);

	if (low <= 0.05 || root <= 0)
		return exp(z * sqrt(1 / a + 1 / b)) * a / b;
	double t = (mid + (z < 0 ? -1 : 1) * sqrt(root)) / low;
	return t > 0 ? t * t * t * a / b : 1e-9;
}

#define PAULSON_FROM 30.0       /* from here on its error is below 2e-4 */

double odds_quantile(double a, double b, double q)
{
	double o = odds_nearly(a, b, normal_quantile(q));

	if (a >= PAULSON_FROM && b >= PAULSON_FROM)
		return o;
	/* Newton in the logarithm, kept between what was found too low and too high. */
	double y = log(o), low = -INFINITY, high = INFINITY;
	for (int i = 0; i < 60; i++) {
		double x = 1 / (1 + exp(-y)), off = beta_below(a, b, x) - q;
		if (off < 0)
			low = y;
		else
			high = y;
		double slope = exp(log_front(a, b, x));
		double next = slope > 0 ? y - off / slope : NAN;
		if (!(next > low && next < high))
			next = isinf(low) ? y - 1 : isinf(high) ? y + 1 : (low + high) / 2;
		if (fabs(next - y) < 1e-7)
			return exp(next);
		y = next;
	}
	return exp(y);
}

double rates_test(double k1, double t1, double k2, double t2)
{
	if (t1 <= 0 || t2 <= 0 || k1 + k2 <= 0)
		return 1;
	double of = t2 / (t1 + t2), least = k2 > 0 ? beta_below(k2, k1 + 1, of) : 1;
	double most = k1 > 0 ? beta_below(k1, k2 + 1, 1 - of) : 1;

	return fmin(1, 2 * fmin(least, most));
}

void poisson_bounds(int64_t k, double *low, double *high)
{
	double n = (double)k;

	*low = k > 0 ? n * chance_quantile(n, 0.025) : 0;
	*high = (n + 1) * chance_quantile(n + 1, 0.975);
}
