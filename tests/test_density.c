#include "tests/test.h"

#include <math.h>

#include "dsp/density.h"

#define BINS 40

/* Bins first .. last have so much, over a noise of 1 in all. Bin k reaches from k - 0.5 to k + 0.5. */
static const struct {
	const char *why;
	int         first, last;
	double      power, share;
	double      at;
} quantiles[] = {
	{ "the middle",                 10, 19, 5,   0.5,   14.5 },
	{ "a tenth is a bin",           10, 19, 5,   0.1,   10.5 },
	{ "a twentieth is half of it",  10, 19, 5,   0.05,  10 },
	{ "half a percent from its end", 10, 19, 100, 0.995, 19.45 },
	{ "all of it",                  10, 19, 5,   1,     19.5 },
	{ "one bin alone",              7,  7,  3,   0.25,  6.75 },
};

static void a_share_of_the_power_lies_below(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof quantiles / sizeof quantiles[0]; i++) {
		double psd[BINS];
		for (int k = 0; k < BINS; k++)
			psd[k] = 1 + (k >= quantiles[i].first && k <= quantiles[i].last ? quantiles[i].power : 0);
		double at = density_quantile(psd, 2, BINS - 3, 1, quantiles[i].share);
		if (!(fabs(at - quantiles[i].at) < 1e-9))
			fail_msg("%s: %.4f, want %.4f", quantiles[i].why, at, quantiles[i].at);
	}
}

static void a_share_of_the_counts_lies_below(void **state)
{
	static const uint32_t count[] = { 0, 2, 0, 6, 2 };
	(void)state;

	assert_true(fabs(density_count_quantile(count, 5, 0.1) - 1.5) < 1e-9);
	assert_true(fabs(density_count_quantile(count, 5, 0.5) - 3.5) < 1e-9);
	assert_true(fabs(density_count_quantile(count, 5, 0.9) - 4.5) < 1e-9);
	assert_true(fabs(density_count_quantile(count, 5, 1) - 5) < 1e-9);
}

/* What is more than 26 dB below the strongest, as the mean of three, is outside. */
static void how_wide_26_db_down(void **state)
{
	static const struct {
		double foot;            /* three bins beside ten of 1000 */
		double noise;           /* in all, besides               */
		int    width;
	} rows[] = { { 0, 1, 12 }, { 2.4, 1, 12 }, { 2.6, 1, 13 }, { 4, 1, 14 }, { 8, 1, 15 }, { 2.6, 100, 13 } };
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		double psd[BINS];
		for (int k = 0; k < BINS; k++)
			psd[k] = rows[i].noise + (k >= 10 && k < 20 ? 1000 : k >= 20 && k < 23 ? rows[i].foot : 0);
		int width = density_width_26db(psd, 1, BINS - 2, rows[i].noise);
		if (width != rows[i].width)
			fail_msg("%g in noise of %g: %d, want %d", rows[i].foot, rows[i].noise, width, rows[i].width);
	}
}

static void how_flat(void **state)
{
	double psd[BINS];
	(void)state;

	for (int k = 0; k < BINS; k++)
		psd[k] = 3;
	/* Even, it lacks nothing: what chance takes away is given back. 10 frames of 5 bins that
	 * share 1.5 are 33.3 alike; the mean of their logarithm is low by 1/66.7. */
	assert_true(fabs(density_flatness(psd, 5, 34, 1, 10) - exp(1 / 66.667 + 1 / (12 * 33.333 * 33.333))) < 1e-6);
	assert_true(fabs(density_flatness(psd, 5, 8, 1, 10)) < 1e-12);
	/* Half of it has eight times the power: sqrt(8) over 4.5. */
	for (int k = 20; k < BINS; k++)
		psd[k] = 17;
	assert_true(fabs(density_flatness(psd, 0, 39, 1, 100000) - sqrt(8) / 4.5) < 1e-4);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_share_of_the_power_lies_below),
		cmocka_unit_test(a_share_of_the_counts_lies_below),
		cmocka_unit_test(how_wide_26_db_down),
		cmocka_unit_test(how_flat),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
