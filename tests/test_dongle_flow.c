/* What the emulated dongle streams through the real dongle library: in time, in
 * order, complete, and of the tuning of its moment. */
#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/dongle/bench.h"

#define COUNT(list) (sizeof (list) / sizeof (list)[0])
#define RATE 2400000.0

/* As if nothing had happened until now. */
static void start_counting(struct bench *b)
{
	bench_set(b);
	assert_int_equal(rtlsdr_set_testmode(b->dev, 1), 0);
	assert_int_equal(rtlsdr_reset_buffer(b->dev), 0);
}

/* Where the counter in the kept bytes does not go on by one; *step is by how much
 * it did at the last of these places. */
static int jumps(const struct bench *b, uint8_t *step)
{
	int found = 0;

	for (int64_t i = 1; i < b->room; i++)
		if (b->kept[i] != (uint8_t)(b->kept[i - 1] + 1)) {
			*step = (uint8_t)(b->kept[i] - b->kept[i - 1]);
			found++;
		}
	return found;
}

static void nothing_flows_before_the_flush(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	assert_int_equal(rtlsdr_set_sample_rate(b->dev, 2400000), 0);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 155000000), 0);
	bench_read(b, 15, 16384);
	assert_false(scene_reaches(&b->calls, 1, 0.2));
	assert_int_equal(rtlsdr_reset_buffer(b->dev), 0);
	assert_true(scene_reaches(&b->calls, 3, BENCH_PATIENCE_S));
	bench_stop(b);
	bench_close(b);
}

/* The crystal is off by so much: more samples come, and centre and IF are off. */
static void comes_at_the_crystals_pace(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	s.dongles[0].ppm = 500;
	bench_open(b, &s, 0);
	bench_set(b);
	bench_read(b, 15, 16384);
	assert_true(scene_reaches(&b->calls, 100, BENCH_PATIENCE_S));
	bench_stop(b);
	double s_taken = (double)(b->last_us - b->first_us) * 1e-6;
	double rate = (double)(b->got - b->first_n) / 2 / s_taken;
	if (fabs(rate / RATE - 1 - 500e-6) > 100e-6)
		fail_msg("%.1f S/s", rate);
	bench_close(b);
}

static const struct {
	const char        *why;
	enum mischief_kind kind;
	double             value;
	int64_t            shortest;
	int                jumps;
	uint8_t            step;
} losses[] = {
	{ "nothing is amiss", MISCHIEF_CLOCK, 0, 16384, 0, 1 },
	{ "1000 bytes are lost: 3 * 256 of them unseen", MISCHIEF_DROP, 1000, 16384, 1,
	  1001 % 256 },
	{ "a multiple of 256 can't be seen", MISCHIEF_DROP, 4096, 16384, 0, 1 },
	{ "a short one loses nothing", MISCHIEF_SHORT, 512, 512, 0, 1 },
	{ "an odd one neither", MISCHIEF_SHORT, 1001, 1001, 0, 1 },
	{ "nor an empty one", MISCHIEF_EMPTY, 0, 0, 0, 1 },
};

static void the_counter_tells_of_losses(void **state)
{
	for (size_t i = 0; i < COUNT(losses); i++) {
		struct scenario s = scenario_usual();
		struct mischief m = { .kind = losses[i].kind, .dongle = -1, .times = 1,
				      .value = losses[i].value };
		struct bench *b = *state;
		uint8_t step = 1;

		bench_open(b, &s, 0);
		start_counting(b);
		bench_read(b, 15, 16384);
		assert_true(scene_reaches(&b->calls, 1, BENCH_PATIENCE_S));
		bench_keep(b, 600000);
		scene_mischief(&b->scene, m);
		bench_kept(b);
		bench_stop(b);
		int found = jumps(b, &step);
		if (found != losses[i].jumps || step != losses[i].step ||
		    b->shortest != losses[i].shortest)
			fail_msg("%s: %d jumps, the last by %d, the shortest call of %lld bytes",
				 losses[i].why, found, step, (long long)b->shortest);
		bench_close(b);
	}
}

static const struct {
	const char *why;
	uint32_t    transfers;
	int64_t     nap_us;
	bool        lost;
} naps[] = {
	{ "15 * 16 KiB last 51 ms: a nap of 250 ms is too long", 15, 250000, true },
	{ "64 * 16 KiB last 218 ms: one of 60 ms is not", 64, 60000, false },
};

static void a_sleepy_reader_loses_samples(void **state)
{
	for (size_t i = 0; i < COUNT(naps); i++) {
		struct scenario s = scenario_usual();
		struct bench *b = *state;
		uint8_t step;

		bench_open(b, &s, 0);
		start_counting(b);
		bench_read(b, naps[i].transfers, 16384);
		assert_true(scene_reaches(&b->calls, 5, BENCH_PATIENCE_S));
		int64_t lost = b->device->count.lost_bytes;
		bench_keep(b, 3000000);
		b->nap_us = naps[i].nap_us;
		bench_kept(b);
		bench_stop(b);
		lost = b->device->count.lost_bytes - lost;
		if ((lost > 0) != naps[i].lost || (lost % 256 != 0 && jumps(b, &step) == 0))
			fail_msg("%s: %lld bytes lost", naps[i].why, (long long)lost);
		bench_close(b);
	}
}

static double power(const uint8_t *bytes, int64_t n)
{
	double sum = 0, squares = 0;

	for (int64_t i = 0; i < n; i++) {
		sum += bytes[i];
		squares += bytes[i] * bytes[i];
	}
	return squares / (double)n - sum / (double)n * (sum / (double)n);
}

/* A change of gain shows in the noise from its moment on, whatever was in flight. */
static void old_samples_stay_old(void **state)
{
	struct scenario s = scenario_usual();
	const int64_t margin = 9600;    /* 2 ms, for the call's own length */
	struct bench *b = *state;

	bench_open(b, &s, 0);
	bench_set(b);
	rtlsdr_set_tuner_gain(b->dev, 402);
	bench_read(b, 32, 65536);
	assert_true(scene_reaches(&b->calls, 1, BENCH_PATIENCE_S));
	bench_catch_up(b);
	bench_keep(b, 4000000);
	assert_true(scene_reaches(&b->n_kept, 200000, BENCH_PATIENCE_S));
	int64_t before_us = state_now_us(b->scene.state);
	assert_int_equal(rtlsdr_set_tuner_gain(b->dev, 0), 0);
	int64_t after_us = state_now_us(b->scene.state);
	bench_kept(b);
	bench_stop(b);
	int64_t last_old = (int64_t)((double)(before_us - b->kept_us) * 4.8) - margin;
	int64_t first_new = (int64_t)((double)(after_us - b->kept_us) * 4.8) + margin;
	assert_in_range(last_old, 30000, 3900000);
	assert_in_range(first_new, 30000, 3900000);
	double old = power(b->kept + last_old - 20000, 20000);
	double new = power(b->kept + first_new, 20000);
	/* 10.5 dB over 1 LSB squared, then the converter's own alone. */
	if (old < 8 || new > 0.3)
		fail_msg("power %.2f just before, %.2f just after, %lld us", old, new,
			 (long long)(after_us - before_us));
	bench_close(b);
}

/* One read at a time, as its name says; between two the FIFO runs over. */
static void the_synchronous_read_works(void **state)
{
	struct scenario s = scenario_usual();
	uint8_t *bytes = calloc(1, 16384);
	struct bench *b = *state;
	int n = 0;

	assert_non_null(bytes);
	bench_open(b, &s, 0);
	bench_set(b);
	assert_int_equal(rtlsdr_read_sync(b->dev, bytes, 16384, &n), 0);
	assert_int_equal(n, 16384);
	assert_int_equal(rtlsdr_read_sync(b->dev, bytes, 1000, &n), -8);
	bench_close(b);
	free(bytes);
}

/* A leap's samples are given as well: nobody misses any, though nobody works them out. */
static void a_leap_is_streamed_too(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	bench_set(b);
	bench_read(b, 32, 65536);
	assert_true(scene_reaches(&b->calls, 3, BENCH_PATIENCE_S));
	int64_t lost = b->device->count.lost_bytes;
	state_leap_to(b->scene.state, state_now_us(b->scene.state) + 30000000);
	assert_true(scene_reaches(&b->got, (int64_t)(30.5 * 2 * RATE), BENCH_PATIENCE_S));
	bench_stop(b);
	double rate = (double)(b->got - b->first_n) / 2 / ((double)(b->last_us - b->first_us) * 1e-6);
	if (fabs(rate / RATE - 1) > 100e-6 || b->device->count.lost_bytes != lost ||
	    b->device->count.skipped_bytes < (int64_t)(25 * 2 * RATE))
		fail_msg("%.1f S/s, %lld bytes lost, %lld skipped", rate,
			 (long long)b->device->count.lost_bytes,
			 (long long)b->device->count.skipped_bytes);
	bench_close(b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		bench_test(nothing_flows_before_the_flush),
		bench_test(comes_at_the_crystals_pace),
		bench_test(the_counter_tells_of_losses),
		bench_test(a_sleepy_reader_loses_samples),
		bench_test(old_samples_stay_old),
		bench_test(the_synchronous_read_works),
		bench_test(a_leap_is_streamed_too),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
