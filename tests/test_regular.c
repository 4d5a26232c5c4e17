/* Rows of times that are regular, or only look so; and the quantiles that tell how much. */
#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/noise.h"
#include "tools/plan/list.h"
#include "tools/plan/regular.h"

#define SEED UINT64_C(20261127)

/* Nobody at random is periodic, and people in exchanges are not either. */
static void chance_is_not_periodic(void **state)
{
	struct noise r = { SEED + 3 };
	int wrong = 0, tries = 400;

	(void)state;
	for (int k = 0; k < tries; k++) {
		double at[60], work[120], now = 0;
		struct regular found;
		for (int i = 0; i < 60; i++)
			at[i] = now += (k % 2 && i % 4 ? 5 : 100) * -log(1 - noise_uniform(&r));
		regular_find(at, 60, 0.5, work, &found);
		wrong += found.period_s > 0;
	}
	print_message("periods found in %d rows of random times: %d\n", tries, wrong);
	assert_int_equal(wrong, 0);
}

/* Critical values z = n length^2 of Rayleigh's test for 5 %: Zar, Biostatistical Analysis, table
 * B.34, from memory; the limit for many is -ln 0.05. tests/outside/renewal.py plays it. */
static void rayleigh_by_the_table(void **state)
{
	static const struct { int n; double z; } row[] = { { 10, 2.919 }, { 100, 2.989 }, { 100000, 2.9957 } };

	(void)state;
	for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
		double p = rayleigh_chance(sqrt(row[i].z / row[i].n), row[i].n);
		if (fabs(p - 0.05) > 0.0005)
			fail_msg("%d angles, z %.3f: %.5f", row[i].n, row[i].z, p);
	}
}

/* 32 of 40 differences are the period, two each are nearly half of one longer and shorter, two each 0.3 of one: period
 * and jitter by the library's cosine, of which ours, good to 4e-9 half a turn away, is no worse in the mean of these. */
static void turned_as_by_the_library(void **state)
{
	enum { GAPS = 40, ODD = 8 };
	static const double period = 10, odd[ODD] = { 1.49, 0.51, 1.3, 0.7, 1.49, 0.51, 1.3, 0.7 };
	double at[GAPS + 1] = { 0 }, work[2 * (GAPS + 1)], mean = 0;
	struct regular found;

	(void)state;
	for (int i = 0; i < GAPS; i++) {
		double gap = period * (i < ODD ? odd[i] : 1);
		at[i + 1] = at[i] + gap;
		mean += cos(2 * M_PI * gap / period) / GAPS;
	}
	regular_find(at, GAPS + 1, 2, work, &found);
	assert_true(fabs(found.period_s - period) < 1e-9);
	double turn = 2 * M_PI * found.jitter_s / period;
	if (!(fabs(exp(-turn * turn) - mean) < 2e-9))
		fail_msg("a mean vector of %.10f, by the library %.10f", exp(-turn * turn), mean);
	assert_true(found.chance < 1e-3);
}

static int ascending(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* Rows of many kinds: random, few values, falling, up and down; against the library's sort. */
static void quantiles_by_the_library(void **state)
{
	struct noise r = { SEED + 5 };
	double row[700], want[700];

	(void)state;
	for (int k = 0; k < 400; k++) {
		int n = (int)noise_between(&r, 1, 700);
		for (int i = 0; i < n; i++)
			row[i] = want[i] = k % 4 == 0 ? noise_uniform(&r) : k % 4 == 1 ? (double)noise_between(&r, -2, 2) :
					   k % 4 == 2 ? n - i : i < n / 2 ? i : n - i;
		qsort(want, (size_t)n, sizeof *want, ascending);
		double upper = list_quantile(row, n, 1), lower = list_quantile(row, n, 0);
		if (memcmp(row, want, (size_t)n * sizeof *row) != 0 || upper < want[n - 1] || lower > want[0])
			fail_msg("seed %llu: row %d of %d", (unsigned long long)SEED + 5, k, n);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(chance_is_not_periodic),
		cmocka_unit_test(rayleigh_by_the_table),
		cmocka_unit_test(turned_as_by_the_library),
		cmocka_unit_test(quantiles_by_the_library),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
