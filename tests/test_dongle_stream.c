#include "tests/test.h"

#include <string.h>
#include <unistd.h>

#include "tests/dongle_steps.h"
#include "tests/fake_rtlsdr.h"

#define E4000 1                         /* a tuner that lands where it is asked to */

/* Bytes are of the tuning under which they were received: tuned for 4 ms at a time,
 * delivered late in bursts, and never stale. */
static void no_block_holds_what_is_stale(void **state)
{
	static const int lags[] = { 0, 1, 4, 9 };
	(void)state;
	for (size_t i = 0; i < sizeof lags / sizeof lags[0]; i++) {
		struct fault why;
		struct block b;
		fake_reset();
		fake->lag = lags[i];
		fake->tuner = E4000;
		void *self = open_named("", &why);
		for (int k = 0; k < 40; k++) {
			struct tuning to = TUNING(100000000 + k * INT64_C(2000000));
			int r = tune_and_read(self, &to, 5000 + k * 997, &b, &why);
			if (r != SOURCE_BLOCK)
				fail_msg("%d held back, hop %d: %s", lags[i], k, why.text);
			for (size_t at = 0; at < 2 * b.n; at++)
				if (((const uint8_t *)b.iq)[at] != fake_value(to.centre.thirds / 3))
					fail_msg("%d held back, hop %d: byte %zu is %d, of another tuning",
						 lags[i], k, at, ((const uint8_t *)b.iq)[at]);
		}
		struct dongle_counts c = source_dongle_counts(self);
		assert_int_equal(c.retunes, 40);
		assert_true(c.stale > 0 && c.listened_us > 0);
		source_dongle.close(self);
	}
}

static void the_same_tuning_goes_on(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	void *self = open_named("", &why);
	assert_int_equal(tune_and_read(self, &to, 24000, &b, &why), SOURCE_BLOCK);
	int64_t stale = source_dongle_counts(self).stale;
	for (int k = 1; k < 50; k++)
		assert_int_equal(tune_and_read(self, &to, 24000, &b, &why), SOURCE_BLOCK);
	/* One look begins with the sample after the last one's, or has a gap: nothing was dropped. */
	struct dongle_counts c = source_dongle_counts(self);
	assert_int_equal(c.retunes, 1);
	assert_int_equal(c.stale, stale);
	assert_true(c.lost == 0 || c.gaps > 0);
	source_dongle.close(self);
}

/* What does not fit while nobody reads is a gap, told with the block that lacks it. */
static void a_sleeping_watch_is_told(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	int gaps = 0;
	(void)state;

	void *self = open_named("", &why);
	assert_int_equal(tune_and_read(self, &to, 24000, &b, &why), SOURCE_BLOCK);
	sleep(2);
	for (int k = 0; k < 150; k++) {
		assert_int_equal(tune_and_read(self, &to, 24000, &b, &why), SOURCE_BLOCK);
		gaps += b.gap;
	}
	struct dongle_counts c = source_dongle_counts(self);
	assert_true(gaps > 0 && c.gaps == gaps);
	assert_true(c.lost > 2400000 / 2);
	assert_int_equal(c.failures, 0);
	source_dongle.close(self);
}

static void rest_leaves_no_old_samples(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block before, after;
	(void)state;

	void *self = open_named("", &why);
	for (int k = 0, gap = true; gap; k++) {
		assert_int_equal(tune_and_read(self, &to, 8192, &before, &why), SOURCE_BLOCK);
		int64_t before_us = before.mono_us;
		source_dongle.rest(self, 100000);
		usleep(100000);
		assert_int_equal(read_block(self, 8192, &after, &why), SOURCE_BLOCK);
		if (after.mono_us < before_us + 90000)
			fail_msg("the block after 100 ms of rest is %lld us younger",
				 (long long)(after.mono_us - before_us));
		gap = after.gap;
		assert_true(k < 20);            /* a rest makes none, a busy machine some */
	}
	source_dongle.close(self);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup(no_block_holds_what_is_stale, reset),
		cmocka_unit_test_setup(the_same_tuning_goes_on, reset),
		cmocka_unit_test_setup(a_sleeping_watch_is_told, reset),
		cmocka_unit_test_setup(rest_leaves_no_old_samples, reset),
	};

	return fake_run(argc, argv, tests, sizeof tests / sizeof tests[0]);
}
