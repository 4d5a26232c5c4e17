#include "dsp/chance.h"

#include <assert.h>
#include <math.h>

/* Rational approximation (relative error 1e-9), then one Newton step on erfc. */
double normal_quantile(double p)
{
	static const double a[] = { -39.69683028665376, 220.9460984245205, -275.9285104469687,
				    138.3577518672690, -30.66479806614716, 2.506628277459239 };
	static const double b[] = { -54.47609879822406, 161.5858368580409, -155.6989798598866,
				    66.80131188771972, -13.28068155288572 };
	static const double c[] = { -0.007784894002430293, -0.3223964580411365, -2.400758277161838,
				    -2.549732539343734, 4.374664141464968, 2.938163982698783 };
	static const double d[] = { 0.007784695709041462, 0.3224671290700398, 2.445134137142996,
				    3.754408661907416 };
	double x;

	assert(p > 0 && p < 1);
	if (p > 0.5)
		return -normal_quantile(1 - p);
	if (p < 0.02425) {
		double q = sqrt(-2 * log(p));
		x = (((((c[0] * q + c[1]) * q + c[2]) * q + c[3]) * q + c[4]) * q + c[5]) /
		    ((((d[0] * q + d[1]) * q + d[2]) * q + d[3]) * q + 1);
	} else {
		double q = p - 0.5, r = q * q;
		x = (((((a[0] * r + a[1]) * r + a[2]) * r + a[3]) * r + a[4]) * r + a[5]) * q /
		    (((((b[0] * r + b[1]) * r + b[2]) * r + b[3]) * r + b[4]) * r + 1);
	}
	double off = 0.5 * erfc(-x / M_SQRT2) - p;
	return x - off * sqrt(2 * M_PI) * exp(x * x / 2);
}

/* x^a e^-x / Gamma(a), without overflow. */
static double gamma_front(double a, double x)
{
	int sign;
	return exp(a * log(x) - x - lgamma_r(a, &sign));
}

static double series_below(double a, double x)
{
	double term = 1 / a, sum = term;
	for (double n = a + 1; term > sum * 1e-16; n++) {
		term *= x / n;
		sum += term;
	}
	return sum * gamma_front(a, x);
}

/* Continued fraction, evaluated forwards (modified Lentz). */
static double fraction_above(double a, double x)
{
	double b = x + 1 - a, c = 1e300, d = 1 / b, h = d;
	for (int i = 1; i < 100000; i++) {
		double an = -i * (i - a);
		b += 2;
		d = 1 / (an * d + b);
		c = b + an / c;
		h *= d * c;
		if (fabs(d * c - 1) < 1e-15)
			break;
	}
	return h * gamma_front(a, x);
}

double gamma_below(double a, double x)
{
	assert(a > 0 && x >= 0);
	if (x == 0)
		return 0;
	return x < a + 1 ? series_below(a, x) : 1 - fraction_above(a, x);
}

double gamma_above(double a, double x)
{
	assert(a > 0 && x >= 0);
	if (x == 0)
		return 1;
	return x < a + 1 ? 1 - series_below(a, x) : fraction_above(a, x);
}

/* By bisection on the logarithm: slow, sure, and only done when sizes are set. */
double chance_threshold(double nu, double pfa)
{
	double low = 1e-12, high = 1;

	assert(nu > 0 && pfa > 0 && pfa < 1);
	while (gamma_above(nu, nu * high) > pfa)
		high *= 2;
	for (int i = 0; i < 100; i++) {
		double mid = 0.5 * (low + high);
		if (gamma_above(nu, nu * mid) > pfa)
			low = mid;
		else
			high = mid;
	}
	return 0.5 * (low + high);
}

double chance_quantile(double nu, double q)
{
	return chance_threshold(nu, 1 - q);
}

double chance_low_mean(double nu, double q)
{
	return gamma_below(nu + 1, nu * chance_quantile(nu, q)) / q;
}
