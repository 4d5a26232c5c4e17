#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "dsp/chance.h"
#include "dsp/law.h"
#include "dsp/spectrum.h"
#include "dsp/window.h"
#include "tests/noise.h"

#define TABLE  SOURCE_ROOT "/tests/outside/law.txt"
#define POINTS 3840

/* The chances of the table's columns, and how far the law's own may be from them: four
 * cumulants tell less and less of a tail. */
static const struct {
	double pfa, factor;
} columns[] = {
	{ 1e-2, 1.01 },  { 1e-3, 1.01 }, { 1e-4, 1.03 },  { 1e-5, 1.06 },
	{ 4e-6, 1.07 },  { 1e-8, 1.25 }, { 1e-10, 1.4 },
};
#define COLUMNS (sizeof columns / sizeof columns[0])

struct row {
	int    n, hop, transforms;
	double from, bins, at[COLUMNS];
};

static void check_row(const struct row *r)
{
	static float w[POINTS];
	struct law law;

	window_fill(w, r->n, WINDOW_KAISER, WINDOW_BETA);
	assert_true(law_of_noise(&law, w, r->n, r->hop, r->transforms, r->from, r->bins));
	double mean = law.shape[0] * law.scale[0] + law.shape[1] * law.scale[1];
	double square = law.shape[0] * law.scale[0] * law.scale[0] +
			law.shape[1] * law.scale[1] * law.scale[1];
	double nu = window_freedom(w, r->n, r->hop, r->transforms, r->from, r->bins);
	if (!(fabs(mean - 1) <= 1e-9) || !(fabs(square * nu - 1) <= 1e-6))
		fail_msg("%d points, %d transforms, %g bins: mean %.9f, %.6f degrees, want %.6f", r->n,
			 r->transforms, r->bins, mean, 1 / square, nu);
	for (size_t i = 0; i < COLUMNS; i++) {
		double got = law_above(&law, r->at[i]) / columns[i].pfa;
		if (got > columns[i].factor || got < 1 / columns[i].factor)
			fail_msg("%d points, %d transforms, %g bins: passes %.5f with %.3f times %g", r->n,
				 r->transforms, r->bins, r->at[i], got, columns[i].pfa);
		double back = law_above(&law, law_threshold(&law, columns[i].pfa)) / columns[i].pfa;
		if (!(fabs(back - 1) <= 1e-6))
			fail_msg("%g bins: the threshold for %g is passed with %.7f of it", r->bins,
				 columns[i].pfa, back);
	}
}

/* COMPUTED from the exact law by tests/outside/law.py, SciPy 1.10.1. */
static void tails_as_by_eigenvalues(void **state)
{
	FILE *in = fopen(TABLE, "r");
	char line[256];
	int rows = 0;
	(void)state;

	assert_non_null(in);
	while (fgets(line, sizeof line, in)) {
		struct row r;
		if (sscanf(line, "law %d %d %d %lf %lf %lf %lf %lf %lf %lf %lf %lf", &r.n, &r.hop,
			   &r.transforms, &r.from, &r.bins, &r.at[0], &r.at[1], &r.at[2], &r.at[3],
			   &r.at[4], &r.at[5], &r.at[6]) != 12)
			continue;
		check_row(&r);
		rows++;
	}
	fclose(in);
	assert_int_equal(rows, 11);
}

/* Bins that share nothing, and are alike, are one gamma: Urkowitz's own case. */
static void equal_shares_are_a_gamma(void **state)
{
	static float w[64];
	struct law law;
	(void)state;

	window_fill(w, 64, WINDOW_RECTANGULAR, 0);
	assert_true(law_of_noise(&law, w, 64, 64, 5, 0, 4));
	assert_true(fabs(law.shape[0] - 20) < 1e-6 && law.shape[1] == 0);
	for (double pfa = 1e-1; pfa > 1e-12; pfa *= 0.1) {
		double got = law_threshold(&law, pfa), want = chance_threshold(20, pfa);
		if (!(fabs(got / want - 1) <= 1e-3))
			fail_msg("%g: %.5f, want %.5f", pfa, got, want);
	}
}

/* False alarms of plain simulation through dsp/spectrum, four standard deviations of a
 * binomial either way. Each look has five stretches that
 * share nothing. Beside it what one gamma of the same mean and variance would let by. */
static const struct {
	const char *why;
	int         transforms, looks;
} simulated[] = {
	{ "a slice of four transforms", 4,  1000000 },
	{ "twelve transforms",          12, 300000 },
};

#ifdef __SANITIZE_ADDRESS__
#define SHARE 10
#else
#define SHARE 1
#endif

static void simulate(size_t row, const double *limit, int n_limits, int64_t *alarms, uint64_t seed)
{
	enum { BINS = 64, HOP = 32, STRETCHES = 5 };
	struct spectrum *s = spectrum_create(BINS, HOP, WINDOW_KAISER, WINDOW_BETA);
	size_t n = (size_t)(BINS + HOP * (simulated[row].transforms - 1));
	float _Complex *iq = calloc(n, sizeof *iq);
	struct noise r = { seed };

	assert_true(s && iq);
	for (int look = 0; look < simulated[row].looks / SHARE; look++) {
		float sum[BINS] = { 0 };
		for (size_t i = 0; i < n; i++)
			iq[i] = 0;
		noise_add(&r, iq, n, 1);
		spectrum_add(s, &(struct block){ .iq = iq, .format = SAMPLE_CF32, .n = n }, 0,
			     simulated[row].transforms, 0, sum);
		for (int c = 0; c < STRETCHES; c++) {
			const float *p = sum + 2 + 12 * c;
			double power = 0.5 * (double)p[0] + 0.5 * (double)p[6];
			for (int k = 1; k < 6; k++)
				power += (double)p[k];
			power *= (double)BINS / 6 / simulated[row].transforms;
			for (int i = 0; i < n_limits; i++)
				alarms[i] += power > limit[i];
		}
	}
	free(iq);
	spectrum_destroy(s);
}

static void false_alarms_as_asked(void **state)
{
	static const double pfa[] = { 1e-3, 1e-4, 1e-5, 4e-6 };
	enum { RATES = sizeof pfa / sizeof pfa[0] };
	float w[64];
	(void)state;

	window_fill(w, 64, WINDOW_KAISER, WINDOW_BETA);
	printf("%-28s %8s %10s %8s %8s %10s\n", "", "asked", "expected", "got", "+-4 s",
	       "one gamma");
	for (size_t row = 0; row < sizeof simulated / sizeof simulated[0]; row++) {
		double limit[2 * RATES], nu = window_freedom(w, 64, 32, simulated[row].transforms, 0.5, 6);
		int64_t got[2 * RATES] = { 0 };
		struct law law;
		assert_true(law_of_noise(&law, w, 64, 32, simulated[row].transforms, 0.5, 6));
		for (int i = 0; i < RATES; i++) {
			limit[i] = law_threshold(&law, pfa[i]);
			limit[RATES + i] = chance_threshold(nu, pfa[i]);
		}
		simulate(row, limit, 2 * RATES, got, 60 + row);
		for (int i = 0; i < RATES; i++) {
			double tries = 5.0 * (simulated[row].looks / SHARE), want = tries * pfa[i];
			double bound = 4 * sqrt(want * (1 - pfa[i])) + 1;
			printf("%-28s %8g %10.1f %8d %8.1f %10d\n", simulated[row].why, pfa[i], want,
			       (int)got[i], bound, (int)got[RATES + i]);
			if (!(fabs((double)got[i] - want) <= bound))
				fail_msg("%s: %d alarms, want %.1f +- %.1f (seed %zu)", simulated[row].why,
					 (int)got[i], want, bound, 60 + row);
		}
	}
	fflush(stdout);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(tails_as_by_eigenvalues),
		cmocka_unit_test(equal_shares_are_a_gamma),
		cmocka_unit_test(false_alarms_as_asked),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
