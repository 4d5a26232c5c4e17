#include "tests/test.h"

#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/dongle/capture_child.h"
#include "daemon/dongle/capture_order.h"
#include "daemon/dongle/source_dongle.h"
#include "tests/dongle/scene.h"
#include "tests/fault_check.h"

/* The dongle source over the real library over emulated dongles. Only the processes
 * that read them have the emulation loaded; nothing leaps, so all clocks agree. */

#define RETUNE_TRANSFERS 23             /* of the library's set_center_freq, counted ... */
#define RETUNE_I2C       19             /* ... on an R820T, librtlsdr 0.6.0              */

static void begin(struct scene *s, struct scenario *what)
{
	what->leaps = false;
	scene_begin(s, what);
	setenv("LD_PRELOAD", DONGLE_LIBRARY, 1);
}

static void end(struct scene *s)
{
	unsetenv("LD_PRELOAD");
	scene_end(s);
}

static void *must_open(const char *serial)
{
	struct source_request q = { .arg = serial };
	struct fault why;
	void *self = source_dongle.open(&q, &why);

	if (!self)
		fail_msg("%s", why.text);
	return self;
}

static int read_block(void *self, size_t n, struct block *out, struct fault *why)
{
	struct pollfd news = { .fd = source_dongle.descriptor(self), .events = POLLIN };
	int r;

	while ((r = source_dongle.read(self, n, out, why)) == SOURCE_LATER)
		poll(&news, 1, 1000);
	return r;
}

static int hop_to(void *self, const struct tuning *to, struct block *out, struct fault *why)
{
	return source_dongle.tune(self, to, why) < 0 ? SOURCE_FAULT : read_block(self, 24000, out, why);
}

static void a_retune_is_one_call_and_lands_where_it_says(void **state)
{
	struct scenario what = scenario_usual();
	struct scene s;
	struct fault why;
	struct block b;
	int64_t controls = 0, i2c = 0, hops = 0;
	(void)state;

	what.dongles[0].ppm = 38.5;
	begin(&s, &what);
	void *self = must_open("");
	const struct counters *count = &s.state->dongles[0].count;
	for (double mhz = 30; mhz < 1700; mhz += 33.71875, hops++) {
		struct tuning to = { { llround(mhz * 3e6) }, 2400000, 38.5, 297 };
		if (hop_to(self, &to, &b, &why) != SOURCE_BLOCK)
			fail_msg("%.3f MHz: %s", mhz, why.text);
		if (hops > 0) {
			assert_int_equal(count->controls - controls, RETUNE_TRANSFERS);
			assert_int_equal(count->i2c - i2c, RETUNE_I2C);
		}
		controls = count->controls;
		i2c = count->i2c;
		double truly = state_true_centre_hz(s.state, 0);
		if (fabs(freq_to_hz(b.centre) - truly) > 1)
			fail_msg("%.3f MHz: stands at %.1f Hz and says %.1f", mhz, truly,
				 freq_to_hz(b.centre));
		/* A step of the synthesiser is 879 Hz over its divider, at the most 440 Hz;
		 * the library adds up to 1 kHz of rounding that the choice undoes in part. */
		if (fabs(truly - mhz * 1e6) > 600)
			fail_msg("%.3f MHz: %.0f Hz off", mhz, truly - mhz * 1e6);
	}
	assert_int_equal(source_dongle_counts(self).retunes, hops);
	assert_int_equal(source_dongle_counts(self).failures, 0);
	source_dongle.close(self);
	assert_int_equal(s.state->dongles[0].owner, 0);
	end(&s);
}

static void two_listen_and_one_is_pulled_out(void **state)
{
	struct scenario what = scenario_usual();
	struct tuning to = { FREQ_HZ(155000000), 2400000, 0, 297 }, there = to;
	struct scene s;
	struct fault why;
	struct block b;
	(void)state;

	there.centre = FREQ_HZ(446000000);
	scenario_dongle(&what, "B2");
	begin(&s, &what);
	void *one = must_open("00000001"), *two = must_open("B2");
	assert_int_equal(hop_to(one, &to, &b, &why), SOURCE_BLOCK);
	assert_int_equal(hop_to(two, &there, &b, &why), SOURCE_BLOCK);
	scene_mischief(&s, (struct mischief){ .kind = MISCHIEF_VANISH, .dongle = 0, .for_s = 0.5 });
	int r = SOURCE_BLOCK;
	for (int k = 0; r == SOURCE_BLOCK && k < 200; k++) {
		r = read_block(one, 24000, &b, &why);
		if (read_block(two, 24000, &b, NULL) != SOURCE_BLOCK)
			fail_msg("the other one was lost with it");
	}
	assert_int_equal(r, SOURCE_FAULT);
	check_fault("pulled out", &why, FAULT_RETRY, "dongle 00000001: it vanished");
	sleep(1);
	if (hop_to(one, &to, &b, &why) != SOURCE_BLOCK)         /* under another index by now */
		fail_msg("%s", why.text);
	assert_int_equal(read_block(two, 24000, &b, &why), SOURCE_BLOCK);
	assert_int_equal(source_dongle_counts(two).failures, 0);
	assert_null(source_dongle.open(&(struct source_request){ .arg = "B2" }, &why));
	check_fault("twice", &why, FAULT_RETRY, "dongle B2: opening failed: it is in use");
	source_dongle.close(one);
	source_dongle.close(two);
	end(&s);
}

static const struct {
	const char     *why;
	int32_t         rate_hz;
	bool            later;          /* after it was started */
	double          bytes;          /* lost before each transfer */
	enum fault_kind kind;
	const char     *fault;
} losses[] = {
	{ "a rate too high", 2880000, false, 1001, FAULT_INPUT, "use 2.4 MS/s" },
	{ "a bad cable", 2400000, false, 1001, FAULT_RETRY, "loses samples" },
	{ "a cable that goes bad", 2400000, true, 2000, FAULT_RETRY, " % of its samples arrive at 2400000 S/s, try another port" },
	{ "a little may be lost", 2400000, true, 200, FAULT_NONE, NULL },
};

static void losses_are_told(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof losses / sizeof losses[0]; i++) {
		struct scenario what = scenario_usual();
		struct tuning to = { FREQ_HZ(155000000), losses[i].rate_hz, 0, 297 };
		struct mischief lossy = { .kind = MISCHIEF_DROP, .dongle = 0, .value = losses[i].bytes };
		struct scene s;
		struct fault why = { 0 };
		struct block b;
		int gaps = 0;
		begin(&s, &what);
		void *self = must_open("");
		if (!losses[i].later)
			scene_mischief(&s, lossy);
		int r = hop_to(self, &to, &b, &why);
		if (losses[i].later)
			scene_mischief(&s, lossy);
		for (int k = 0; r == SOURCE_BLOCK && k < 1100; k++) {
			r = read_block(self, 24000, &b, &why);
			gaps += r == SOURCE_BLOCK && b.gap;
		}
		if ((r == SOURCE_BLOCK) != (losses[i].kind == FAULT_NONE))
			fail_msg("%s: gave %d, %s", losses[i].why, r, why.text);
		if (r != SOURCE_BLOCK)
			check_fault(losses[i].why, &why, losses[i].kind, losses[i].fault);
		if (losses[i].later && gaps == 0)
			fail_msg("%s: no gap was told", losses[i].why);
		source_dongle.close(self);
		end(&s);
	}
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_retune_is_one_call_and_lands_where_it_says),
		cmocka_unit_test(two_listen_and_one_is_pulled_out),
		cmocka_unit_test(losses_are_told),
	};

	if (argc > 1 && strcmp(argv[1], CAPTURE_OPTION) == 0)
		return capture_child();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
