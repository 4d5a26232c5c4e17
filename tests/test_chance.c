#include "tests/test.h"

#include <math.h>

#include "dsp/chance.h"

/* Energy detector (Urkowitz 1967 form): gammainccinv(K, pfa)/K, COMPUTED with
 * SciPy 1.10.1. */
static const struct {
	double nu, at_1e2, at_1e3, at_1e4, at_1e6;
} thresholds[] = {
	{ 1,    4.60517, 6.90776, 9.21034, 13.81551 }, { 2,    3.31918, 4.61671, 5.87819, 8.34421 },
	{ 5,    2.32093, 2.95883, 3.55640, 4.68630 },  { 10,   1.87831, 2.26574, 2.61930, 3.27103 },
	{ 20,   1.59227, 1.83505, 2.05156, 2.44132 },  { 50,   1.35807, 1.49449, 1.61319, 1.82127 },
	{ 100,  1.24723, 1.33770, 1.41530, 1.54919 },  { 200,  1.17181, 1.23283, 1.28459, 1.37279 },
	{ 500,  1.10697, 1.14392, 1.17493, 1.22715 },  { 1000, 1.07503, 1.10058, 1.12190, 1.15758 },
};

static void near(const char *why, double nu, double got, double want, double by)
{
	if (!(fabs(got - want) <= by))
		fail_msg("%s, %g degrees: %.8g, want %.8g", why, nu, got, want);
}

static void thresholds_of_the_energy_detector(void **state)
{
	static const double pfa[] = { 1e-2, 1e-3, 1e-4, 1e-6 };
	(void)state;

	for (size_t i = 0; i < sizeof thresholds / sizeof thresholds[0]; i++)
		for (int k = 0; k < 4; k++)
			near("threshold", thresholds[i].nu, chance_threshold(thresholds[i].nu, pfa[k]),
			     (&thresholds[i].at_1e2)[k], 1e-5);
	/* One degree is an exponential: -ln pfa, exact, far into the tail. */
	near("an exponential's tail", 1, chance_threshold(1, 1e-12), 12 * M_LN10, 1e-6);
}

/* chi2.ppf(q, df), COMPUTED with SciPy 1.10.1: twice a gamma of df/2 degrees. */
static const struct {
	double df, q, want;
} quantiles[] = {
	{ 2, 0.001, 0.00200 },     { 2, 0.05, 0.10259 },     { 2, 0.5, 1.38629 },
	{ 2, 0.999, 13.81551 },    { 20, 0.001, 5.92104 },   { 20, 0.01, 8.26040 },
	{ 20, 0.5, 19.33743 },     { 20, 0.99, 37.56623 },   { 200, 0.001, 143.84279 },
	{ 200, 0.05, 168.27855 },  { 200, 0.5, 199.33373 },  { 200, 0.95, 233.99427 },
	{ 200, 0.999, 267.54053 }, { 200, 1 - 1e-6, 309.83809 },
};

static void chi_square_quantiles(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof quantiles / sizeof quantiles[0]; i++)
		near("chi-square", quantiles[i].df / 2,
		     quantiles[i].df * chance_quantile(quantiles[i].df / 2, quantiles[i].q),
		     quantiles[i].want, 1e-5);
}

/* gammaincinv(K, q)/K, and the mean below the 20 % quantile, COMPUTED with SciPy. */
static const struct {
	double nu, median, low20, q20;
} biases[] = {
	{ 1,   0.693147, 0.1074, 0.2231 }, { 2,    0.839173, 0.2550, 0.4122 },
	{ 5,   0.934182, 0.4661, 0.6179 }, { 10,   0.966871, 0.6016, 0.7289 },
	{ 20,  0.983384, 0.7084, 0.8086 }, { 50,   0.993341, 0.8104, 0.8795 },
	{ 100, 0.996669, 0.8641, 0.9150 }, { 1000, 0.999667, 0.9561, 0.9733 },
};

static void low_shares_of_noise(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof biases / sizeof biases[0]; i++) {
		double nu = biases[i].nu;
		near("median", nu, chance_quantile(nu, 0.5), biases[i].median, 1e-6);
		near("lowest fifth's mean", nu, chance_low_mean(nu, 0.2), biases[i].low20, 6e-5);
		near("20 % quantile", nu, chance_quantile(nu, 0.2), biases[i].q20, 6e-5);
	}
	near("exact: 1 + 4 ln 0.8", 1, chance_low_mean(1, 0.2), 1 + 4 * log(0.8), 1e-9);
	near("all of it has mean one", 7, chance_low_mean(7, 1 - 1e-12), 1, 1e-6);
}

/* scipy.stats.norm.ppf 1.10.1, COMPUTED */
static const struct {
	double p, want;
} normals[] = {
	{ 0.5, 0 },
	{ 0.9, 1.2815515655446004 },
	{ 0.975, 1.959963984540054 },
	{ 0.999, 3.090232306167813 },
	{ 1 - 1e-6, 4.753424308817087 },
	{ 1e-8, -5.612001244174788 },
	{ 1e-12, -7.034483825301131 },
	{ 0.02425, -1.972961051311885 },       /* where the approximation changes over */
};

static void normal_quantiles(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof normals / sizeof normals[0]; i++)
		if (!(fabs(normal_quantile(normals[i].p) - normals[i].want) <= 1e-8))
			fail_msg("p %g: %.12g, want %.12g", normals[i].p,
				 normal_quantile(normals[i].p), normals[i].want);
}

/* scipy.special.gammainc and gammaincc 1.10.1, COMPUTED */
static const struct {
	double a, x, below, above;
} gammas[] = {
	{ 0.5, 0.2, 0.472910743134462, 0.527089256865538 },
	{ 1, 1, 0.632120558828558, 0.367879441171442 },
	{ 10, 5, 0.0318280573062048, 0.968171942693795 },
	{ 10, 20, 0.995004587691692, 0.00499541230830758 },
	{ 20, 60, 0.999999999364808, 6.35191834037896e-10 },
	{ 72.2, 90, 0.976280626321086, 0.0237193736789143 },
	{ 147, 190, 0.999475084657151, 0.000524915342849012 },
	{ 748, 800, 0.969332537678181, 0.0306674623218191 },
	{ 1000, 1200, 0.999999998711839, 1.28816060862814e-09 },
};

static void gamma_both_ways(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof gammas / sizeof gammas[0]; i++) {
		double a = gammas[i].a, x = gammas[i].x;
		near("below", a, gamma_below(a, x), gammas[i].below, 1e-11);
		near("above", a, gamma_above(a, x) / gammas[i].above, 1, 1e-9);
	}
	for (double a = 0.5; a < 2000; a *= 1.7)
		for (double x = 0; x < 3 * a + 10; x += a / 7)
			near("above + below", a, gamma_above(a, x) + gamma_below(a, x), 1, 1e-14);
}

/* Detection of a Gaussian signal: Q(K, K g/(1 + s)), COMPUTED with SciPy: what the
 * threshold does to power that is there. */
static const struct {
	double pfa, nu, snr_db, want;
} found[] = {
	{ 1e-3, 1, 5, 0.1902 },    { 1e-3, 10, 0, 0.3059 },   { 1e-3, 10, 3, 0.769 },
	{ 1e-3, 50, -3, 0.4938 },  { 1e-3, 100, -5, 0.4225 }, { 1e-6, 1, 10, 0.2848 },
	{ 1e-6, 10, 3, 0.3492 },   { 1e-6, 50, 0, 0.7272 },   { 1e-6, 100, -3, 0.3633 },
};

static void gaussian_signal_found(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof found / sizeof found[0]; i++) {
		double g = chance_threshold(found[i].nu, found[i].pfa);
		double s = pow(10, found[i].snr_db / 10);
		near("found", found[i].nu, gamma_above(found[i].nu, found[i].nu * g / (1 + s)),
		     found[i].want, 6e-5);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(thresholds_of_the_energy_detector),
		cmocka_unit_test(chi_square_quantiles),
		cmocka_unit_test(low_shares_of_noise),
		cmocka_unit_test(normal_quantiles),
		cmocka_unit_test(gamma_both_ways),
		cmocka_unit_test(gaussian_signal_found),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
