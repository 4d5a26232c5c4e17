#include "tests/test.h"

#include "tools/plan/interval.h"

#include <inttypes.h>
#include <math.h>
#include <stdbool.h>

/* Wilson 1927, z = 1.959964, computed with NumPy; the first four are the worked
 * cases of Newcombe, Statistics in Medicine 17 (1998), that they are his is from
 * memory. */
static const struct {
	const char *why;
	double      k, n, low, high;
} wilson[] = {
	{ "81 of 263", 81, 263, 0.2553, 0.3662 },
	{ "15 of 148", 15, 148, 0.0624, 0.1605 },
	{ "none of 20 bounds from above only", 0, 20, 0.0000, 0.1611 },
	{ "1 of 29", 1, 29, 0.0061, 0.1718 },
	{ "all of 29 bounds from below only", 29, 29, 0.8830, 1.0000 },
	{ "10 of 100", 10, 100, 0.0552, 0.1744 },
	{ "18 of 900", 18, 900, 0.0127, 0.0314 },
	{ "none of 3600", 0, 3600, 0.0000, 0.0011 },
};

static void wilson_table(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof wilson / sizeof wilson[0]; i++) {
		struct interval got = interval_wilson(wilson[i].k, wilson[i].n);
		if (fabs(got.low - wilson[i].low) > 5e-5 || fabs(got.high - wilson[i].high) > 5e-5)
			fail_msg("%s: got %.4f-%.4f, want %.4f-%.4f", wilson[i].why, got.low,
				 got.high, wilson[i].low, wilson[i].high);
	}
}

struct dice {
	uint64_t state;
};

/* xorshift64*; 0 <= x < 1. */
static double roll(struct dice *d)
{
	d->state ^= d->state >> 12;
	d->state ^= d->state << 25;
	d->state ^= d->state >> 27;
	return (double)((d->state * UINT64_C(2685821657736338717)) >> 11) / 9007199254740992.0;
}

/* Looks at a two-state process of mean on time a and off time b, every tr. */
static struct looks watch(struct dice *d, double a, double b, double tr, int n, bool pairs)
{
	double p = a / (a + b), rho = exp(-tr * (1 / a + 1 / b));
	bool on = roll(d) < p, before = false;
	struct looks l = { .looks = n, .pairs = pairs ? n - 1 : 0 };

	for (int i = 0; i < n; i++) {
		l.busy += on;
		l.held += on && before;
		l.openings += on && !before;
		before = on;
		on = roll(d) < p + (on ? rho * (1 - p) : -rho * p);
	}
	l.evidence = l.busy;
	l.overs = (int)l.openings;
	return l;
}

/* Two-state Markov model, V = (1 + rho) / (1 - rho), computed. */
static const struct {
	const char *why;
	double      a, b, tr, v;
} dependent[] = {
	{ "10 s in 100 s each second", 10, 90, 1, 18.0185 },
	{ "each 5 s", 10, 90, 5, 3.6921 },
	{ "each 10 s", 10, 90, 10, 1.9815 },
	{ "each minute they are as good as independent", 10, 90, 60, 1.0025 },
	{ "short ones", 3, 27, 2, 2.8223 },
	{ "half the time", 20, 20, 4, 5.0665 },
};

static void effective_size(void **state)
{
	const uint64_t seed = 20260101;
	struct dice d = { seed };

	(void)state;
	for (size_t i = 0; i < sizeof dependent / sizeof dependent[0]; i++)
		for (int pairs = 0; pairs < 2; pairs++) {
			struct looks l = watch(&d, dependent[i].a, dependent[i].b, dependent[i].tr,
					       400000, pairs);
			double v = 1 / interval_effective(1, interval_correlation(&l));
			/* 400000 looks: a tenth is more than four deviations for each row. */
			if (fabs(v / dependent[i].v - 1) > 0.10)
				fail_msg("%s, %s: inflation %.3f, want %.3f (seed %" PRIu64 ")",
					 dependent[i].why, pairs ? "from pairs" : "from openings",
					 v, dependent[i].v, seed);
		}
}

/* A nominal 95 % interval over nights of 8 h: 600 nights, so 2.5 % is about three
 * deviations; the method's own coverage is 0.94 to 0.97 (simulated before). */
static void interval_covers(void **state)
{
	static const struct { const char *why; double a, b, tr; } nights[] = {
		{ "4 s overs each second", 4, 76, 1 },
		{ "4 s overs each 4 s", 4, 76, 4 },
		{ "rare ones", 5, 495, 4 },
	};
	const uint64_t seed = 42;
	struct dice d = { seed };

	(void)state;
	for (size_t i = 0; i < sizeof nights / sizeof nights[0]; i++) {
		double p = nights[i].a / (nights[i].a + nights[i].b);
		int in = 0;
		for (int n = 0; n < 600; n++) {
			struct looks l = watch(&d, nights[i].a, nights[i].b, nights[i].tr,
					       (int)(8 * 3600 / nights[i].tr), true);
			struct interval got = interval_occupancy(&l);
			in += got.low <= p && p <= got.high;
		}
		if (in < 600 * 0.92 || in > 600 * 0.99)
			fail_msg("%s: %d of 600 hold the truth (seed %" PRIu64 ")", nights[i].why,
				 in, seed);
	}
}

static void interval_edges(void **state)
{
	(void)state;
	struct looks none = { 0 }, quiet = { .looks = 10000, .pairs = 9999 };
	struct looks few = { .looks = 3600, .busy = 30, .evidence = 30, .openings = 3, .held = 27,
			     .pairs = 3599, .overs = 3 };
	struct looks many = few;

	assert_true(interval_occupancy(&none).high == 1);
	assert_true(interval_occupancy(&quiet).low == 0 && interval_occupancy(&quiet).high < 0.02);
	many.overs = 30;
	struct interval wide = interval_occupancy(&few), plain = interval_occupancy(&many);
	assert_true(wide.high - wide.low > plain.high - plain.low);
	/* Four single idle looks in a channel that is always on: the pairs missed
	 * them, the openings did not. */
	struct looks loop = { .looks = 14400,
			      .busy = 14396,
			      .evidence = 14396,
			      .openings = 4,
			      .held = 14392,
			      .pairs = 14396,
			      .overs = 4 };
	assert_true(interval_occupancy(&loop).low > 0.99);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(wilson_table),
		cmocka_unit_test(effective_size),
		cmocka_unit_test(interval_covers),
		cmocka_unit_test(interval_edges),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
