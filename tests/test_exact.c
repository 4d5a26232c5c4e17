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

/* scipy.stats.binomtest(k, n, p).pvalue */
static const struct { int k, n; double p, value; } binomial[] = {
	{ 0, 5, 0.5, 0.0625 },
	{ 5, 5, 0.5, 0.0625 },
	{ 3, 15, 0.1, 0.1840610691 },
	{ 7, 20, 0.5, 0.2631759644 },
	{ 12, 100, 0.25, 0.001714030353 },
	{ 2, 2, 0.2, 0.04 },
	{ 0, 30, 0.02, 1 },
	{ 250, 1000, 0.3, 0.0004875556568 },
	{ 18, 20, 0.9, 1 },
	{ 1, 40, 0.5, 7.457856555e-11 },
	{ 600, 1000, 0.6, 1 },
	{ 13, 20, 0.4, 0.03699009027 },
};

static void binomial_two_sided(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof binomial / sizeof binomial[0]; i++) {
		double got = binomial_test(binomial[i].k, binomial[i].n, binomial[i].p);
		if (!near(got, binomial[i].value, 1e-6))
			fail_msg("%d of %d at %g: %.10g, want %.10g", binomial[i].k, binomial[i].n,
				 binomial[i].p, got, binomial[i].value);
	}
}

static void rates(void **state)
{
	(void)state;
	/* 12 in 25 h against 88 in 75 h: 12 of 100 at a quarter, as above. */
	assert_true(near(rates_test(12, 25, 88, 75), 0.001714030353, 1e-6));
	assert_true(near(rates_test(88, 75, 12, 25), 0.001714030353, 1e-6));
	assert_true(rates_test(0, 10, 0, 10) == 1);
	assert_true(rates_test(5, 10, 5, 0) == 1);      /* nobody looked */
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
		cmocka_unit_test(binomial_two_sided),
		cmocka_unit_test(rates),
		cmocka_unit_test(poisson_means),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
