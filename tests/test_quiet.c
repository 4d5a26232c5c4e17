#include "tests/test.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/quiet.h"
#include "tests/noise.h"

#define MOST 900

/* Powers of nu complex degrees of freedom about mean. */
static void powers(struct noise *r, float *x, int n, int nu, double mean)
{
	for (int i = 0; i < n; i++) {
		double sum = 0;
		for (int k = 0; k < nu; k++)
			sum -= log(1 - noise_uniform(r));
		x[i] = (float)(mean * sum / nu);
	}
}

static int upwards(const void *a, const void *b)
{
	float x = *(const float *)a, y = *(const float *)b;
	return (x > y) - (x < y);
}

static const struct {
	const char *why;
	int         n;
	double      mean;
	int         alike;      /* so many are the same */
} piles[] = {
	{ "one",                           1,   1,      0 },
	{ "two",                           2,   1,      0 },
	{ "fewer than a register holds",   7,   1e-6,   0 },
	{ "as many, and one",              17,  1e-6,   0 },
	{ "a slice's wide cells",          227, 1e-9,   0 },
	{ "a hop's cells",                 796, 1e-9,   0 },
	{ "huge",                          100, 1e30,   0 },
	{ "near the smallest floats",      100, 1e-37,  0 },
	{ "below the smallest normal one", 100, 1e-41,  0 },
	{ "half are the same",             200, 1,      100 },
	{ "all are zero",                  50,  0,      0 },
};

/* Sorting is the plain way. */
static void ranks_as_sorted(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof piles / sizeof piles[0]; i++) {
		struct noise r = { 300 + i };
		float x[MOST], sorted[MOST];
		int n = piles[i].n;
		powers(&r, x, n, 3, piles[i].mean);
		for (int k = 0; k < piles[i].alike; k++)
			x[2 * k] = (float)piles[i].mean;
		for (int k = 0; k < n; k++)
			sorted[k] = x[k];
		qsort(sorted, (size_t)n, sizeof *sorted, upwards);
		for (int k = 0; k < n; k++) {
			float got = quiet_ranked(x, n, k);
			int below = quiet_below(x, n, sorted[k]), want = k;
			while (want > 0 && sorted[want - 1] >= sorted[k])
				want--;
			if (got < sorted[k] || got > sorted[k] || below != want)
				fail_msg("%s: number %d is %g, want %g; %d below, want %d (seed %zu)",
					 piles[i].why, k, (double)got, (double)sorted[k], below, want,
					 300 + i);
		}
	}
}

static void quantiles_as_ranked(void **state)
{
	static const double q[] = { 0, 0.1, 0.25, 0.5, 0.9, 1 };
	(void)state;

	for (size_t i = 0; i < sizeof q / sizeof q[0]; i++) {
		struct noise r = { 320 + i };
		float x[MOST];
		double y[MOST];
		powers(&r, x, 301, 2, 1);
		for (int k = 0; k < 301; k++)
			y[k] = (double)x[k];
		double got = quiet_quantile(y, 301, q[i]);
		double want = (double)quiet_ranked(x, 301, quiet_rank(301, q[i]));
		if (!(fabs(got - want) <= 0))
			fail_msg("quantile %g is %g, want %g (seed %zu)", q[i], got, want, 320 + i);
	}
}

/* The mean of the noise alone, whatever else is there. Of n powers of nu degrees it
 * scatters by 1/sqrt(n nu); four times that, and what signals just over the noise add. */
static void means_under_signals(void **state)
{
	static const struct {
		const char *why;
		int         n, nu;
		double      busy, over;         /* share of signals, and how far over the noise */
		double      within;
	} rows[] = {
		{ "nothing but noise",         800, 16, 0,   1,   0.035 },
		{ "a fifth is busy",           800, 16, 0.2, 100, 0.04 },
		{ "most is busy",              800, 16, 0.8, 100, 0.08 },
		{ "one in ten holds noise",    800, 16, 0.9, 1e4, 0.12 },
		{ "few looks, many degrees",   128, 60, 0.3, 10,  0.06 },
		{ "fewer than a register",     13,  60, 0,   1,   0.15 },
		{ "few, of few degrees",       20,  2,  0,   1,   0.7 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		for (uint64_t seed = 340; seed < 360; seed++) {
			struct noise r = { seed };
			struct quiet q = quiet_of(rows[i].nu);
			float x[MOST];
			powers(&r, x, rows[i].n, rows[i].nu, 1e-7);
			for (int k = 0; k < (int)(rows[i].busy * rows[i].n); k++)
				x[k] *= (float)rows[i].over;
			double got = quiet_mean(x, rows[i].n, &q), off = got / 1e-7 - 1, sum = 0;
			int below = quiet_below(x, rows[i].n, (float)(q.cut * got));
			for (int k = 0; k < rows[i].n; k++)
				sum += (double)x[k] < q.cut * got ? (double)x[k] : 0;
			/* That of what lies below its own cut. */
			if (!(fabs(sum / below / q.mean / got - 1) < 1e-3))
				fail_msg("%s: not settled at %g (seed %d)", rows[i].why, got, (int)seed);
			if (!(fabs(off) <= rows[i].within))
				fail_msg("%s: %+.4f off, want within %g (seed %d)", rows[i].why, off,
					 rows[i].within, (int)seed);
		}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(ranks_as_sorted),
		cmocka_unit_test(quantiles_as_ranked),
		cmocka_unit_test(means_under_signals),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
