#include "tests/test.h"

#include "tests/noise.h"
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

/* How long overs and silences are. */
enum law { LAW_TWO_STATE = 0, LAW_LOG_NORMAL, LAWS };

/* Log-normal: the logarithm's deviation is 1, so that lengths vary 1.31 times as much as
 * exponential ones and one in a hundred is six times the mean. */
static double length(struct noise *r, enum law law, double mean)
{
	return law == LAW_TWO_STATE ? -mean * log1p(-noise_uniform(r)) :
				      mean * exp(noise_normal(r) - 0.5);
}

/* Looks at a channel of mean on time a and mean silence b every tr, n of them, long after it
 * began, and what a survey counts of that. */
static struct looks watch(struct noise *r, enum law law, double a, double b, double tr, int n,
			  bool pairs)
{
	struct looks l = { .looks = n, .pairs = pairs ? n - 1 : 0 };
	double next = -20 * (a + b) * (0.5 + noise_uniform(r));
	bool on = false, before = false;
	int since = 0;                  /* looks since the last change */

	for (int i = 0; i < n; i++, since++) {
		while (next <= i * tr) {
			on = !on;
			next += length(r, law, on ? a : b);
		}
		l.busy += on;
		l.held += on && before;
		l.openings += on && !before;
		if (on != before) {
			if (before || l.openings > 1)
				spread_add(before ? &l.over : &l.gap, since * tr);
			since = 0;
		}
		before = on;
	}
	if (before)
		spread_add(&l.over, since * tr);
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
	struct noise r = { seed };

	(void)state;
	for (size_t i = 0; i < sizeof dependent / sizeof dependent[0]; i++)
		for (int pairs = 0; pairs < 2; pairs++) {
			struct looks l = watch(&r, LAW_TWO_STATE, dependent[i].a, dependent[i].b,
					       dependent[i].tr, 400000, pairs);
			double v = 1 / interval_effective(1, interval_correlation(&l));
			/* 400000 looks: a tenth is more than four deviations for each row. */
			if (fabs(v / dependent[i].v - 1) > 0.10)
				fail_msg("%s, %s: inflation %.3f, want %.3f (seed %" PRIu64 ")",
					 dependent[i].why, pairs ? "from pairs" : "from openings",
					 v, dependent[i].v, seed);
		}
}

/* Channels of a night of 8 h, no two alike: mean overs of 3 to 30 s, looks each 1 to 8 s, and
 * mean silences as said; half of them two-state, half log-normal. Each interval that
 * promises 95 % must hold the channel's own a / (a + b) in 93 to 97 % of them. One deviation of
 * 1000 is 0.7 %. Of so few overs that a night may have none up to 99 %: counts come in
 * whole numbers. Of either law alone 92 to 99.6 %: rare log-normal ones come out lowest, for
 * the long ones that make up the mean were mostly never met. */
static void interval_covers(void **state)
{
	static const struct { const char *why; double least, most; int top; } silences[] = {
		{ "30 s to 50 min", 30, 3000, 970 },
		{ "busy ones", 30, 100, 970 },
		{ "ten to thirty overs a night", 1000, 3000, 970 },
		{ "three to ten overs a night", 3000, 9000, 990 },
	};
	const uint64_t seed = 42;
	struct noise r = { seed };

	(void)state;
	for (size_t i = 0; i < sizeof silences / sizeof silences[0]; i++) {
		int in[LAWS] = { 0 };
		for (int n = 0; n < 1000; n++) {
			double a = 3 * pow(10, noise_uniform(&r)), tr = 1 + 7 * noise_uniform(&r);
			double b = silences[i].least *
				   pow(silences[i].most / silences[i].least, noise_uniform(&r));
			enum law law = n % 2 ? LAW_LOG_NORMAL : LAW_TWO_STATE;
			struct looks l = watch(&r, law, a, b, tr, (int)(8 * 3600 / tr), true);
			struct interval got = interval_occupancy(&l);
			in[law] += got.low <= a / (a + b) && a / (a + b) <= got.high;
		}
		print_message("%s: two-state %.1f %%, log-normal %.1f %%\n", silences[i].why,
			      in[LAW_TWO_STATE] / 5.0, in[LAW_LOG_NORMAL] / 5.0);
		int both = in[LAW_TWO_STATE] + in[LAW_LOG_NORMAL];
		if (both < 930 || both > silences[i].top)
			fail_msg("%s: %d of 1000 hold the truth (seed %" PRIu64 ")",
				 silences[i].why, both, seed);
		for (enum law law = 0; law < LAWS; law++)
			if (in[law] < 460 || in[law] > 498)
				fail_msg("%s, law %d: %d of 500 hold the truth (seed %" PRIu64 ")",
					 silences[i].why, law, in[law], seed);
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
	many.openings = 30;
	many.held = 0;
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
