/* Likelihoods of the renewal process in one phase, where they can be written down. */
#include "tests/test.h"

#include <math.h>

#include "tools/plan/renewal.h"

#define EVERY_S 2.0

/* Key held for 4 s, pressed again in three of ten cases after 2 s in the mean, else after a quarter of an hour. */
static const struct renewal r = { .phases = 1, .on_s = 4, .gap_s = 2, .more = 0.3, .idle_s = 900, .hang_s = 0.5 };

static double likelihood(const struct glimpse *g, int n)
{
	return exp(renewal_likelihood(&r, g, n, EVERY_S));
}

/* Silences of less than the hang are part of an over: the key goes up at 1/4 a second, for good with 1 - joins. */
static void an_over_and_its_end(void **state)
{
	const double joins = 0.3 * (1 - exp(-0.5 / 2));

	(void)state;
	assert_true(fabs(renewal_joins(&r) - joins) < 1e-12);
	for (double s = 1; s < 20; s *= 2) {
		const struct glimpse g[] = { { .what = GLIMPSE_BEGAN },
					     { .what = GLIMPSE_STAYED_ON, .after_s = (float)s }, { .what = GLIMPSE_FELL } };
		double on = exp(-s / 4 * (1 - joins));
		assert_true(fabs(likelihood(g, 2) / on - 1) < 1e-6);
		assert_true(fabs(likelihood(g, 3) / (on * (1 - joins) / 4) - 1) < 1e-6);
	}
}

/* Then silence, that of an exchange or a long one, up to the next key down. */
static void a_gap_and_the_next_over(void **state)
{
	const double joins = renewal_joins(&r);

	(void)state;
	for (double u = 0.5; u < 40; u *= 2) {
		const struct glimpse g[] = { { .what = GLIMPSE_BEGAN }, { .what = GLIMPSE_STAYED_ON, .after_s = 3 },
					     { .what = GLIMPSE_FELL }, { .what = GLIMPSE_STAYED_OFF, .after_s = (float)u },
					     { .what = GLIMPSE_ROSE }, { .what = GLIMPSE_STAYED_ON, .after_s = 5 },
					     { .what = GLIMPSE_FELL } };
		double first = exp(-3.0 / 4 * (1 - joins)) / 4;
		double gap = (0.3 - joins) * exp(-u / 2), idle = 0.7 * exp(-u / 900);
		assert_true(fabs(likelihood(g, 4) / (first * (gap + idle)) - 1) < 1e-6);
		double next = first * (gap / 2 + idle / 900);
		assert_true(fabs(likelihood(g, 5) / next - 1) < 1e-6);
		assert_true(fabs(likelihood(g, 7) / (next * exp(-5.0 / 4 * (1 - joins)) * (1 - joins) / 4) - 1) < 1e-6);
	}
}

/* Looks: on after 2 s, or off, of what began. Two states once nobody presses the key again: on is left at 1/4 a
 * second, silence at 1/900; the chance to be on after t is w + (1 - w) exp(-(1/4 + 1/900) t), w = (1/900) / (1/4 + 1/900). */
static void looks_at_it(void **state)
{
	const struct renewal plain = { .phases = 1, .on_s = 4, .gap_s = 2, .more = 0, .idle_s = 900, .hang_s = 0 };
	const double sum = 1 / 4.0 + 1 / 900.0, w = 1 / 900.0 / sum;

	(void)state;
	for (int looks = 1; looks <= 8; looks++) {
		double t = looks * EVERY_S / 4, on = w + (1 - w) * exp(-sum * t);
		struct glimpse g[] = { { .what = GLIMPSE_BEGAN }, { .what = GLIMPSE_ON, .after_s = (float)t },
				       { .what = GLIMPSE_ON, .after_s = (float)t } };
		assert_true(fabs(exp(renewal_likelihood(&plain, g, 2, EVERY_S)) / on - 1) < 1e-6);
		assert_true(fabs(exp(renewal_likelihood(&plain, g, 3, EVERY_S)) / (on * on) - 1) < 1e-6);
		g[1].what = GLIMPSE_OFF;
		assert_true(fabs(exp(renewal_likelihood(&plain, g, 2, EVERY_S)) / (1 - on) - 1) < 1e-6);
	}
}

/* Chains are independent, and one that was seen again counts as often. */
static void chains_multiply(void **state)
{
	struct glimpse g[] = { { .what = GLIMPSE_BEGAN }, { .what = GLIMPSE_STAYED_ON, .after_s = 3 }, { .what = GLIMPSE_FELL },
			       { .what = GLIMPSE_BEGAN }, { .what = GLIMPSE_STAYED_ON, .after_s = 7 } };

	(void)state;
	double first = renewal_likelihood(&r, g, 3, EVERY_S), second = renewal_likelihood(&r, &g[3], 2, EVERY_S);
	assert_true(fabs(renewal_likelihood(&r, g, 5, EVERY_S) - first - second) < 1e-9);
	g[0].again = 2;
	assert_true(fabs(renewal_likelihood(&r, g, 5, EVERY_S) - 3 * first - second) < 1e-9);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(an_over_and_its_end),
		cmocka_unit_test(a_gap_and_the_next_over),
		cmocka_unit_test(looks_at_it),
		cmocka_unit_test(chains_multiply),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
