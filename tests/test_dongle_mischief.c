/* What the real dongle library makes of an emulated dongle that misbehaves: as it
 * is known of real ones. */
#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "tests/dongle/bench.h"

#define COUNT(list) (sizeof (list) / sizeof (list)[0])

/* ---- transfers that end badly ---- */

static const struct {
	const char        *why;
	enum mischief_kind kind;
	int                times;
	bool               apart;       /* with good ones in between               */
	bool               alive;       /* transfers are left that go on           */
	bool               ends;        /* the reader returns by itself            */
} endings[] = {
	{ "14 of 15 lost: full rate", MISCHIEF_TIMEOUT, 14, false, true, false },
	{ "the 15th kills it without a word", MISCHIEF_TIMEOUT, 15, false, false, false },
	{ "stalls likewise", MISCHIEF_STALL, 15, false, false, false },
	{ "overflows likewise", MISCHIEF_OVERFLOW, 15, false, false, false },
	{ "14 errors over the night: full rate", MISCHIEF_ERROR, 14, true, true, false },
	{ "15 errors over the night likewise kill it", MISCHIEF_ERROR, 15, true, false, false },
	{ "15 errors on end: taken for a lost device", MISCHIEF_ERROR, 15, false, false, true },
};

static void add_ending(struct scenario *s, enum mischief_kind kind, double at, int times)
{
	struct mischief *m = scenario_mischief(s, kind);

	assert_non_null(m);
	m->when = WHEN_BYTES;
	m->at = at;
	m->times = times;
}

static void lost_transfers_are_not_replaced(void **state)
{
	for (size_t i = 0; i < COUNT(endings); i++) {
		struct scenario s = scenario_usual();
		struct bench *b = *state;

		scenario_unhurried(&s);
		for (int k = 0; k < (endings[i].apart ? endings[i].times : 1); k++)
			add_ending(&s, endings[i].kind, 40000.0 * (k + 1),
				   endings[i].apart ? 1 : endings[i].times);
		bench_open(b, &s, 0);
		bench_set(b);
		bench_read(b, 15, 16384);
		/* The last of them is near 600000. */
		bool alive = scene_reaches(&b->got, 1500000, endings[i].alive ? BENCH_PATIENCE_S : 1);
		bool ends = scene_reaches(&b->ended, 1, endings[i].ends ? BENCH_PATIENCE_S : 0.05);
		int64_t lost = b->device->count.lost_bytes;
		if (alive)
			scene_reaches(&b->got, 3000000, BENCH_PATIENCE_S);
		lost = b->device->count.lost_bytes - lost;
		if (alive != endings[i].alive || ends != endings[i].ends || lost != 0)
			fail_msg("%s: goes %s, %lld bytes lost, reader %s", endings[i].why,
				 alive ? "on" : "no further", (long long)lost,
				 ends ? "ended" : "still in");
		bench_stop(b);
		bench_close(b);
	}
}

static void a_silent_one_is_waited_for(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	bench_set(b);
	bench_read(b, 15, 16384);
	assert_true(scene_reaches(&b->calls, 10, BENCH_PATIENCE_S));
	scene_mischief(&b->scene, (struct mischief){ .kind = MISCHIEF_SILENCE, .dongle = -1,
						    .for_s = 600 });
	scene_reaches(&b->calls, INT64_MAX, 0.1);
	int64_t before = b->calls;
	assert_false(scene_reaches(&b->calls, before + 1, 0.2));
	assert_int_equal(b->ended, 0);
	/* Over before its time by a leap. */
	state_leap_to(b->scene.state, state_now_us(b->scene.state) + 600000000);
	assert_true(scene_reaches(&b->calls, before + 10, BENCH_PATIENCE_S));
	bench_stop(b);
	bench_close(b);
}

/* ---- off the bus ---- */

static void vanish(struct bench *b)
{
	assert_true(scene_reaches(&b->ended, 1, BENCH_PATIENCE_S));
	assert_int_equal(b->result, -5);
	assert_int_equal(rtlsdr_cancel_async(b->dev), -2);
	bench_join(b);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 156000000), -4);
	assert_int_equal(rtlsdr_get_device_count(), 1);
	assert_int_equal(rtlsdr_get_index_by_serial("00000001"), -3);
}

static void vanishes_and_comes_back(void **state)
{
	struct scenario s = scenario_usual();
	struct mischief *m = scenario_mischief(&s, MISCHIEF_VANISH);
	struct bench *b = *state;

	scenario_dongle(&s, "other");
	*m = (struct mischief){ .kind = MISCHIEF_VANISH, .dongle = 0, .when = WHEN_BYTES,
				.at = 300000, .for_s = 600 };
	bench_open(b, &s, 0);
	bench_set(b);
	bench_read(b, 15, 16384);
	vanish(b);
	state_leap_to(b->scene.state, state_now_us(b->scene.state) + 600000000);
	assert_int_equal(rtlsdr_get_device_count(), 2);
	assert_int_equal(rtlsdr_get_index_by_serial("00000001"), 1);    /* it was 0 */
	/* The old handle stays dead. */
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 156000000), -4);
	assert_int_equal(rtlsdr_close(b->dev), 0);
	/* It comes back knowing nothing. */
	assert_int_equal(rtlsdr_open(&b->dev, 1), 0);
	assert_int_equal(rtlsdr_get_tuner_type(b->dev), RTLSDR_TUNER_R820T);
	assert_false(b->device->now.running);
	bench_set(b);
	bench_read(b, 15, 16384);
	assert_true(scene_reaches(&b->calls, 5, BENCH_PATIENCE_S));
	bench_stop(b);
	bench_close(b);
}

/* ---- at opening ---- */

static const struct {
	const char        *why;
	enum mischief_kind kind;
	int                result;
} refusals[] = {
	{ "no permission", MISCHIEF_DENIED, -3 },
	{ "somebody has it", MISCHIEF_BUSY, -6 },
	{ "the kernel's driver lets go", MISCHIEF_DRIVER, 0 },
};

static void opening_is_refused(void **state)
{
	for (size_t i = 0; i < COUNT(refusals); i++) {
		struct scenario s = scenario_usual();
		rtlsdr_dev_t *second;
		struct bench *b = *state;

		scenario_mischief(&s, refusals[i].kind);
		bench_open(b, &s, refusals[i].result);
		if (b->device->detached != (refusals[i].kind == MISCHIEF_DRIVER))
			fail_msg("%s: the driver has %slet go", refusals[i].why,
				 b->device->detached ? "" : "not ");
		/* Two at a time never. */
		if (b->dev)
			assert_int_equal(rtlsdr_open(&second, 0), -6);
		bench_close(b);
	}
}

static void no_tuner_answers(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	scenario_mischief(&s, MISCHIEF_NO_TUNER);
	bench_open(b, &s, 0);
	assert_int_equal(rtlsdr_get_tuner_type(b->dev), RTLSDR_TUNER_UNKNOWN);
	/* Nor is that told: it seems to tune. */
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 155000000), 0);
	bench_close(b);
}

/* Each transfer costs its 300 ms; opening took 25 s with a real one and said that
 * all is well, setting the rate 3.6 s. */
static void a_mute_one_takes_its_time(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	scenario_mischief(&s, MISCHIEF_MUTE);
	bench_open(b, &s, 0);
	int64_t opening = b->device->count.failed;
	double opening_s = state_elapsed_s(b->scene.state);
	assert_int_equal(rtlsdr_get_tuner_type(b->dev), RTLSDR_TUNER_UNKNOWN);
	assert_int_equal(rtlsdr_set_sample_rate(b->dev, 2400000), -1);
	int64_t rate = b->device->count.failed - opening;
	if (opening < 75 || opening > 90 || rate != 12 || opening_s < 0.3 * (double)opening)
		fail_msg("%d timeouts at opening, %.1f s, %d setting the rate", (int)opening,
			 opening_s, (int)rate);
	bench_close(b);
}

/* ---- settings ---- */

static void a_tuner_write_is_refused(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	bench_set(b);
	scene_mischief(&b->scene, (struct mischief){ .kind = MISCHIEF_REFUSED, .dongle = -1,
						    .times = 1 });
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 156000000), -9);
	assert_int_equal(rtlsdr_get_center_freq(b->dev), 0);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 156000000), 0);
	assert_true(fabs(state_true_centre_hz(b->scene.state, 0) - 156e6) < 128);
	bench_close(b);
}

/* What transfers take passes on the shared clock: 23 of them, 19 on the tuner's bus. */
static void a_retune_takes_time(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	s.control_us = 200;
	s.i2c_us = 300;
	bench_open(b, &s, 0);
	bench_set(b);
	int64_t leapt = b->scene.state->leap_us;
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 156000000), 0);
	leapt = b->scene.state->leap_us - leapt;
	assert_int_equal(leapt, 23 * 200 + 19 * 300);
	bench_close(b);
}

/* ---- cancelling and hanging ---- */

static void a_cancel_before_the_reader_is_lost(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	bench_set(b);
	assert_int_equal(rtlsdr_cancel_async(b->dev), -2);
	bench_read(b, 15, 16384);
	assert_true(scene_reaches(&b->calls, 3, BENCH_PATIENCE_S));
	bench_stop(b);
	assert_int_equal(b->result, 0);
	assert_int_equal(b->device->count.freed_in_flight, 0);
	bench_close(b);
}

static void late_cancels_are_freed_in_flight(void **state)
{
	struct scenario s = scenario_usual();
	struct mischief *m = scenario_mischief(&s, MISCHIEF_LATE_CANCEL);
	struct bench *b = *state;

	m->value = 100;
	bench_open(b, &s, 0);
	bench_set(b);
	bench_read(b, 15, 16384);
	assert_true(scene_reaches(&b->calls, 3, BENCH_PATIENCE_S));
	bench_stop(b);
	assert_int_equal(b->device->count.freed_in_flight, 15);
	bench_close(b);
}

static void *tune(void *self)
{
	struct bench *b = self;

	rtlsdr_set_center_freq(b->dev, 156000000);
	b->ended = 1;
	return NULL;
}

/* Left as they are: nothing gets a hung thread back. */
static void some_calls_never_return(void **state)
{
	static const enum mischief_kind kinds[] = { MISCHIEF_HANG_CONTROL, MISCHIEF_HANG_EVENTS };
	static struct bench hung[COUNT(kinds)];

	(void)state;
	for (size_t i = 0; i < COUNT(kinds); i++) {
		struct scenario s = scenario_usual();
		struct bench *b = &hung[i];

		bench_open(b, &s, 0);
		bench_set(b);
		scene_mischief(&b->scene, (struct mischief){ .kind = kinds[i], .dongle = -1 });
		if (kinds[i] == MISCHIEF_HANG_CONTROL)
			assert_int_equal(pthread_create(&b->reader, NULL, tune, b), 0);
		else
			bench_read(b, 15, 16384);
		scene_reaches(&b->ended, 1, 0.2);
		rtlsdr_cancel_async(b->dev);
		assert_false(scene_reaches(&b->ended, 1, 0.3));
		pthread_detach(b->reader);
		scene_end(&b->scene);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		bench_test(lost_transfers_are_not_replaced),
		bench_test(a_silent_one_is_waited_for),
		bench_test(vanishes_and_comes_back),
		bench_test(opening_is_refused),
		bench_test(no_tuner_answers),
		bench_test(a_mute_one_takes_its_time),
		bench_test(a_tuner_write_is_refused),
		bench_test(a_retune_takes_time),
		bench_test(a_cancel_before_the_reader_is_lost),
		bench_test(late_cancels_are_freed_in_flight),
		cmocka_unit_test(some_calls_never_return),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
