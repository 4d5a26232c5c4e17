#include "tests/test.h"

#include <math.h>

#include "tests/census_world.h"
#include "tools/plan/occupancy.h"

/* Looks for 10 % of itself in 95 of 100 cases, independent: of Rec. ITU-R SM.1880, from memory
 * and unverified. All rows lie within 5.3 % of the formula (computed), so 6 % is allowed. Those
 * for looks 4 s apart are 3.1 times as many there, which is a correlation of 0.512195. */
static const struct { double percent, independent, dependent; } recommended[] = {
	{ 6.67, 5368, 16641 }, { 10, 3461, 10730 }, { 15, 2117, 6563 }, { 20, 1535, 4759 },
	{ 30, 849, 2632 }, { 40, 573, 1777 }, { 50, 381, 1182 }, { 60, 253, 785 }, { 70, 162, 502 },
};

/* ceil((scipy.stats.norm.ppf(0.5 + c / 2) / part)**2 * (1 - p) / p), and within 1 % of all time
 * ceil((... / 0.01)**2 * p * (1 - p)): computed with SciPy 1.10.1. */
static const struct { double p, at95, at95_20, at90, at99, within; } formula[] = {
	{ 0.01, 38031, 9508, 26785, 65686, 381 },
	{ 0.02, 18824, 4706, 13258, 32511, 753 },
	{ 0.05, 7299, 1825, 5141, 12607, 1825 },
	{ 0.10, 3458, 865, 2435, 5972, 3458 },
	{ 0.20, 1537, 385, 1083, 2654, 6147 },
	{ 0.50, 385, 97, 271, 664, 9604 },
};

static void sample_sizes(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof recommended / sizeof recommended[0]; i++) {
		double n = occupancy_samples(recommended[i].percent / 100, 0.1, 0.95);
		double together = n * occupancy_dependence(0.512195);
		if (fabs(n / recommended[i].independent - 1) > 0.06 ||
		    fabs(together / recommended[i].dependent - 1) > 0.06)
			fail_msg("%g %%: %.0f and %.0f looks", recommended[i].percent, n, together);
	}
	for (size_t i = 0; i < sizeof formula / sizeof formula[0]; i++) {
		double p = formula[i].p;
		assert_true(ceil(occupancy_samples(p, 0.1, 0.95)) == formula[i].at95);
		assert_true(ceil(occupancy_samples(p, 0.2, 0.95)) == formula[i].at95_20);
		assert_true(ceil(occupancy_samples(p, 0.1, 0.90)) == formula[i].at90);
		assert_true(ceil(occupancy_samples(p, 0.1, 0.99)) == formula[i].at99);
		assert_true(ceil(occupancy_samples_within(p, 0.01, 0.95)) == formula[i].within);
	}
}

/* Uniform phase, computed. */
static const struct { double over_s, revisit_s, look_s, seen; } seen[] = {
	{ 2, 1, 0.02, 1 }, { 2, 5, 0.02, 0.404 }, { 2, 10, 0.02, 0.202 }, { 5, 10, 0.05, 0.505 },
	{ 1, 60, 0.10, 0.018333 },
};

static void overs_that_can_be_seen(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof seen / sizeof seen[0]; i++)
		assert_true(fabs(occupancy_seen(seen[i].over_s, seen[i].look_s, seen[i].revisit_s) -
				 seen[i].seen) < 1e-6);
	/* None met in an hour, by looks that meet four in ten: fewer than 7.4 an hour. */
	assert_true(fabs(interval_none_hour(0.404, 3600) - 2.995732 / 0.404) < 1e-5);
	assert_true(isinf(interval_none_hour(0, 3600)));
}

/* Four channels in use of 277, the one for half of four hours, three for 72 s each. */
static void bands_in_use(void **state)
{
	struct night n;

	(void)state;
	night_begin(&n, 60, 4);
	night_add(&n, (struct world_over){ WORLD_FIRE, 10, 0, 3600, 200, 0, 5000, KIND_NFM, 0 });
	night_add(&n, (struct world_over){ WORLD_FIRE, 10, 3600, 3600, 200, 0, 5000, KIND_NFM, 0 });
	for (int k = 0; k < 3; k++)
		for (int i = 0; i < 12; i++)
			night_add(&n, (struct world_over){ WORLD_FIRE, 100 + 50 * k, 300 + 1100 * i, 6,
							   200, 0, 9000, KIND_NFM, 0 });
	struct census *c = night_end(&n);
	struct band_use u = occupancy_of_band(c, WORLD_FIRE), none = occupancy_of_band(c, WORLD_AIR);
	double share = 72.0 / 14400;
	assert_true(fabs(u.sro - (0.5 + 3 * share) / 277) < 1e-9);
	assert_true(fabs(u.fbo - (0.5 * 5000 + 3 * share * 9000) / 2500 / 277) < 1e-9);
	assert_true(u.sro_likely.low < u.sro && u.sro_likely.high > u.sro && u.sro_likely.low > 0);
	assert_true(u.busy_hour == 0 || u.busy_hour == 1);
	assert_true(fabs(u.busy_hour_sro * 277 - 1.02) < 0.02);
	/* None heard in 14400 looks at 2280 channels: fewer than 3.0 overs of 5 s in four hours of
	 * them all. */
	assert_true(none.sro == 0 && none.fbo == 0 && none.sro_likely.low == 0);
	assert_true(fabs(none.sro_likely.high / (2.995732 * 5 / 14400 / 2280) - 1) < 1e-3);
	census_destroy(c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sample_sizes),
		cmocka_unit_test(overs_that_can_be_seen),
		cmocka_unit_test(bands_in_use),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
