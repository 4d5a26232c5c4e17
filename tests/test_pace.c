#include "tests/test.h"

#include "daemon/dongle/pace.h"

#define SECOND 1000000

/* Deliveries of 48 000 bytes are 10 ms at 2.4 MS/s. */
#define RATE   2400000
#define EACH   48000
#define EACH_US 10000

static void pace_is_the_least_late(void **state)
{
	static const int64_t late_us[] = { 3000, 200, 9000, 0, 4000, 8000 };
	struct pace p;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 600; k++) {
		int64_t at_us = 1000 * SECOND + (k + 1) * EACH_US + late_us[k % 6];
		assert_false(pace_feed(&p, (k + 1) * INT64_C(48000), at_us));
	}
	assert_int_equal(pace_at(&p, 0), 1000 * SECOND);
	assert_int_equal(pace_at(&p, 600 * EACH), 1006 * SECOND);
}

static void pace_sees_samples_fall_out(void **state)
{
	struct pace p;
	int seen = 0;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 200; k++)           /* 30 ms go missing after 100 of them */
		seen += pace_feed(&p, (k + 1) * INT64_C(48000),
				  (k + 1) * INT64_C(10000) + (k >= 100 ? 30000 : 0));
	assert_int_equal(seen, 1);
	assert_int_equal(pace_at(&p, 200 * EACH), 2 * SECOND + 30000);
}

/* Every tenth of a second, so much of it for ten seconds and the rest. */
static double share_of(struct pace *p, int64_t *at_us, int64_t *bytes, int percent)
{
	double share = 1;

	for (int k = 0; k < 101 && share == 1; k++) {
		*at_us += SECOND / 10;
		*bytes += percent * INT64_C(4800);
		share = pace_share(p, *bytes, *at_us);
	}
	return share;
}

static void pace_share_of_ten_seconds(void **state)
{
	struct pace p;
	int64_t at_us = 5 * SECOND, bytes = 0;
	(void)state;

	pace_reset(&p, RATE);
	assert_true(pace_share(&p, 0, at_us) == 1);
	assert_true(share_of(&p, &at_us, &bytes, 100) == 1);
	double half = share_of(&p, &at_us, &bytes, 50);
	assert_true(half > 0.49 && half < 0.52);
	assert_true(at_us < 26 * SECOND);
	assert_true(share_of(&p, &at_us, &bytes, 100) == 1);
}

static void pace_does_not_drift_in_a_year(void **state)
{
	struct pace p;
	int64_t year_s = 366 * 86400;
	(void)state;

	pace_reset(&p, 3200000);
	pace_feed(&p, 0, 0);
	assert_int_equal(pace_at(&p, year_s * 6400000), year_s * SECOND);
}

/* A reader that is late for half a second on end looks as if samples were lost;
 * what must be sure remembers better. */
static void pace_is_sure_for_longer(void **state)
{
	struct pace p;
	int jumps = 0;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 800; k++) {
		int64_t late_us = k >= 400 && k < 450 ? 20000 : 0;
		jumps += pace_feed(&p, (k + 1) * INT64_C(48000), (k + 1) * INT64_C(10000) + late_us);
		assert_int_equal(pace_not_before(&p, 0), 0);
		if (k == 449)
			assert_int_equal(pace_at(&p, 0), 20000);
	}
	assert_int_equal(jumps, 1);
	assert_int_equal(pace_at(&p, 0), 0);
}

/* A leap of the computer's clock is no lateness. */
static void pace_takes_a_leap(void **state)
{
	struct pace p;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 100; k++)
		pace_feed(&p, (k + 1) * INT64_C(48000), (k + 1) * INT64_C(10000));
	assert_true(pace_settled(&p));
	assert_true(pace_feed(&p, 101 * 48000, 101 * 10000 + 3 * SECOND));
	assert_false(pace_settled(&p));
	assert_int_equal(pace_at(&p, 0), 3 * SECOND);
	assert_int_equal(pace_not_before(&p, 0), 3 * SECOND);
}

/* A silence is not a thin stream: another watches for that. */
static void pace_leaves_silences_out(void **state)
{
	struct pace p;
	int64_t at_us = 0, bytes = 0;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 3000; k++) {
		at_us += k == 500 ? 30 * SECOND : EACH_US;
		bytes += EACH;
		if (pace_share(&p, bytes, at_us) < 0.99)
			fail_msg("delivery %d: thin", k);
	}
}

/* Bursts of a reader that sleeps are no jump, however many come at once. */
static void pace_knows_a_burst(void **state)
{
	struct pace p;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 3000; k++)
		if (pace_feed(&p, (k + 1) * INT64_C(48000), (k / 30 + 1) * INT64_C(300000)))
			fail_msg("delivery %d: a jump", k);
	assert_int_equal(pace_at(&p, 0), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(pace_is_the_least_late),
		cmocka_unit_test(pace_sees_samples_fall_out),
		cmocka_unit_test(pace_share_of_ten_seconds),
		cmocka_unit_test(pace_does_not_drift_in_a_year),
		cmocka_unit_test(pace_is_sure_for_longer),
		cmocka_unit_test(pace_takes_a_leap),
		cmocka_unit_test(pace_leaves_silences_out),
		cmocka_unit_test(pace_knows_a_burst),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
