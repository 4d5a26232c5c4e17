#include "tests/test.h"

#include "tools/plan/exact.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

/* All outside values were computed with SciPy 1.10.1; the expression stands above each. */

static bool near(double got, double want, double part)
{
	return fabs(got - want) <= part * fabs(want);
}

/* scipy.special.betainc(a, b, x) */
static const struct { double a, b, x, below; } beta[] = {
	{ 0.5, 0.5, 0.3, 0.369010119566 },
	{ 1, 1, 0.25, 0.25 },
	{ 2, 5, 0.2, 0.34464 },
	{ 5, 2, 0.9, 0.885735 },
	{ 30, 70, 0.33, 0.748773915459 },
	{ 300, 7000, 0.045, 0.950522921495 },
	{ 1.5, 0.7, 0.99, 0.945641046084 },
	{ 5000, 5000, 0.49, 0.0227420323244 },
};

static void incomplete_beta(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof beta / sizeof beta[0]; i++) {
		double got = beta_below(beta[i].a, beta[i].b, beta[i].x);
		if (!near(got, beta[i].below, 1e-9))
			fail_msg("Beta(%g, %g) below %g: %.12g, want %.12g", beta[i].a, beta[i].b,
				 beta[i].x, got, beta[i].below);
	}
	assert_true(beta_below(2, 3, 0) == 0 && beta_below(2, 3, 1) == 1);
}

/* scipy.stats.f.ppf(q, 2*a, 2*b) * a / b */
static const struct { double a, b, q, odds; } quantile[] = {
	{ 1, 0.5, 0.975, 1599 },
	{ 1, 0.5, 0.025, 0.0519395135 },
	{ 0.6, 0.4, 0.025, 0.00671235257 },
	{ 0.6, 0.4, 0.975, 5041.73029 },
	{ 3, 1.5, 0.975, 29.4694368 },
	{ 10, 5, 0.025, 0.721065955 },
	{ 10, 10, 0.975, 2.4644843 },
	{ 29, 29, 0.975, 1.68169951 },
	{ 31, 31, 0.975, 1.65274524 },
	{ 31, 31, 0.025, 0.605053928 },
	{ 200, 100, 0.025, 1.58001123 },
	{ 40, 400, 0.975, 0.135645166 },
	{ 31, 1000, 0.025, 0.0209698985 },
};

static void odds(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof quantile / sizeof quantile[0]; i++) {
		double got = odds_quantile(quantile[i].a, quantile[i].b, quantile[i].q);
		if (!near(got, quantile[i].odds, 2e-4))
			fail_msg("%g of odds (%g, %g): %.9g, want %.9g", quantile[i].q,
				 quantile[i].a, quantile[i].b, got, quantile[i].odds);
	}
}

/* Twice the lesser tail of k of n at p, added up in whole fractions (Python's fractions, math.comb). */
static const struct { double k, n, p, value; } tails[] = {
	{ 12, 100, 0.25, 0.00205487628974 },
	{ 0, 25, 0.5, 5.96046447754e-08 },
	{ 10, 50, 0.5, 2.38613316768e-05 },
	{ 3, 3, 0.5, 0.25 },
	{ 5, 10, 0.5, 1 },
	{ 40, 50, 0.1, 7.36229456323e-31 },
	{ 1, 400, 0.01, 0.18095608251 },
};

static void rates(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
		double k = tails[i].k, n = tails[i].n, p = tails[i].p;
		double got = rates_test(k, p, n - k, 1 - p), turned = rates_test(n - k, 1 - p, k, p);
		if (!near(got, tails[i].value, 1e-6) || !near(turned, tails[i].value, 1e-6))
			fail_msg("%g of %g at %g: %.10g and %.10g, want %.10g", k, n, p, got, turned,
				 tails[i].value);
	}
	assert_true(rates_test(0, 10, 0, 10) == 1);
	assert_true(rates_test(5, 10, 5, 0) == 1);      /* nobody looked */
	/* Fractions lie between. */
	assert_true(rates_test(12.5, 25, 88, 75) > tails[0].value && rates_test(12.5, 25, 88, 75) < 0.01);
}

/* scipy.stats.chi2.ppf(0.025, 2*k) / 2 and (0.975, 2*k + 2) / 2; k = 0, 1, 3, 10 and 100 are in
 * every handbook's table, from memory. */
static const struct { int k; double low, high; } poisson[] = {
	{ 0, 0, 3.6888794541 },
	{ 1, 0.0253178080, 5.5716433909 },
	{ 3, 0.6186721229, 8.7672730697 },
	{ 10, 4.7953886961, 18.390356042 },
	{ 100, 81.363991251, 121.62679379 },
};

static void poisson_means(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof poisson / sizeof poisson[0]; i++) {
		double low, high;
		poisson_bounds(poisson[i].k, &low, &high);
		if (!near(low, poisson[i].low, 1e-8) || !near(high, poisson[i].high, 1e-8))
			fail_msg("%d: got %.9g to %.9g", poisson[i].k, low, high);
	}
	assert_true(near(POISSON_NONE, -log(0.05), 1e-9));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(incomplete_beta),
		cmocka_unit_test(odds),
		cmocka_unit_test(rates),
		cmocka_unit_test(poisson_means),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
