/* What share of the time is spent listening, and that no sample is stale. */
#include "tests/test.h"

#include <complex.h>
#include <inttypes.h>
#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/dongle/capture_child.h"
#include "daemon/dongle/capture_order.h"
#include "daemon/dongle/dongle.h"
#include "daemon/dongle/source_dongle.h"
#include "tests/dongle/scene.h"
#include "tests/noise.h"

/* Shares are made of what is counted, below the real library and in the stream, and do
 * not depend on how fast this machine is. A hop costs, besides its look:
 *
 *   its control transfers, counted          times what one takes,
 *   from the tuning done to the first sample used, by the stream's own count,
 *   from the last one used to the end of its delivery, by the same,
 *   two messages between processes: the delivery's bell, and the next order.
 *
 * A transfer takes three microframes of the high-speed bus (USB 2.0: 125 us each; three
 * is common practice), one on the tuner's bus 0.1 ms more (three bytes at 400 kHz
 * are 68 us). 23 of them, 19 on the tuner's bus, make 10.5 ms: the middle of the
 * 6 to 15 ms that are common practice for a retune of this library's. */

#define TRANSFER_US 375.0
#define TUNER_US    100.0
#define MESSAGE_US  100.0       /* to wake a process that waits, on a small computer   */
#define RATE        2400000
#define LOOK        48000       /* samples: 20 ms                                      */
#define LOOK_US     20000.0
#define PIECE       240         /* 0.1 ms                                              */
#define HOPS        100         /* the tail's mean is then 0.05 ms off, one standard deviation */
#define SEED        UINT64_C(20261126)
#define PARKED      150         /* looks: 3 s, less than any park that is planned        */
#define SURE        450         /* looks: 9 s, until its clock goes by what came, not by when it began */
#define SETTLES_US  900         /* of a synthesiser slower than any is known to be     */

/* The town's steady line, and centres that it is well inside of. */
#define LINE_HZ     155300000
static const int32_t centres_hz[] = { 155000000, 155437500, 154900000, 155550000 };

#define CENTRES (int)(sizeof centres_hz / sizeof centres_hz[0])

static void begin(struct scene *s, double settle_us)
{
	struct scenario what = scenario_usual();

	what.leaps = false;
	what.settle_us = settle_us;
	snprintf(what.town, sizeof what.town, "%s/tests/data/dongle-air.conf", SOURCE_ROOT);
	scene_begin(s, &what);
	setenv("LD_PRELOAD", DONGLE_LIBRARY, 1);
}

static void end(struct scene *s)
{
	unsetenv("LD_PRELOAD");
	scene_end(s);
}

static void *must_open(void)
{
	struct source_request q = { .arg = "" };
	struct fault why;
	void *self = source_dongle.open(&q, &why);

	if (!self)
		fail_msg("%s", why.text);
	return self;
}

static void look_at(void *self, int32_t centre_hz, struct block *out)
{
	const struct tuning to = { FREQ_HZ(centre_hz), RATE, 0, 297 };
	struct pollfd news = { .fd = source_dongle.descriptor(self), .events = POLLIN };
	struct fault why;
	int r = source_dongle.tune(self, &to, &why);

	while (r == 0 && (r = source_dongle.read(self, LOOK, out, &why)) == SOURCE_LATER) {
		poll(&news, 1, 1000);
		r = 0;
	}
	if (r != SOURCE_BLOCK)
		fail_msg("at %d Hz: %s", centre_hz, r == 0 ? "nothing" : why.text);
}

/* The emulated transfers take no time, so that all looks would end alike within a
 * delivery: waits up to two deliveries. */
static void shift_phase(struct noise *n)
{
	double us = 2 * DONGLE_DELIVERY / (2.0 * RATE) * 1e6 * noise_uniform(n);

	nanosleep(&(struct timespec){ .tv_nsec = (long)(us * 1e3) }, NULL);
}

/* ---- nothing stale ---- */

/* Of full scale, in dB. */
static double level(const struct block *b, int piece, double hz)
{
	const uint8_t *iq = (const uint8_t *)b->iq + 2 * piece * PIECE;
	double complex sum = 0;

	for (int i = 0; i < PIECE; i++)
		sum += (iq[2 * i] - 127.5 + I * (iq[2 * i + 1] - 127.5)) *
		       cexp(-2 * M_PI * I * hz / RATE * i);
	return 20 * log10(cabs(sum) / PIECE / 127.5 + 1e-9);
}

/* From one look to the next another centre: each tenth of a millisecond has the line where
 * it belongs, and none has it where the last centre, or one not yet settled, would. */
static void no_sample_is_stale(void **state)
{
	struct scene s;
	struct block b;
	struct noise phase = { SEED };
	(void)state;

	begin(&s, SETTLES_US);
	void *self = must_open();
	for (int i = 0; i < HOPS; i++) {
		shift_phase(&phase);
		look_at(self, centres_hz[i % CENTRES], &b);
		double at = LINE_HZ - freq_to_hz(b.centre);
		for (int piece = 0; piece < LOOK / PIECE; piece++)
			if (level(&b, piece, at) < -22)
				fail_msg("look %d at %.4f MHz, %.1f ms in: the line has %.1f dBFS", i,
					 freq_to_hz(b.centre) * 1e-6, piece * 0.1, level(&b, piece, at));
	}
	source_dongle.close(self);
	end(&s);
}

/* ---- shares ---- */

struct cost {
	double transfers_us, settling_us, tail_us, messages_us, listened_us;
};

static double lost_us(const struct cost *c)
{
	return c->transfers_us + c->settling_us + c->tail_us + c->messages_us;
}

static double share(const struct cost *c, double times)
{
	double lost = lost_us(c) + (times - 1) * c->transfers_us;

	return c->listened_us / (c->listened_us + lost);
}

/* What hops hops with looks looks each cost, after a first one. */
static struct cost spend(void *self, const struct counters *n, int hops, int looks)
{
	struct block b;
	struct cost c = { 0 };
	struct noise phase = { SEED };

	look_at(self, centres_hz[CENTRES - 1], &b);
	struct dongle_counts was = source_dongle_counts(self);
	int64_t controls = n->controls, i2c = n->i2c;
	for (int i = 0; i < hops; i++)
		for (int k = 0; k < looks; k++) {
			int64_t end_us = b.mono_us + (int64_t)LOOK_US;
			if (k == 0)
				shift_phase(&phase);
			look_at(self, centres_hz[i % CENTRES], &b);
			if (b.gap || (k > 0 && llabs(b.mono_us - end_us) > 1000))
				fail_msg("look %d of a park begins %lld us after the last", k,
					 (long long)(b.mono_us - end_us));
		}
	look_at(self, centres_hz[hops % CENTRES], &b);  /* the last one's tail is told now */
	struct dongle_counts is = source_dongle_counts(self);
	double share_of = (double)hops / (hops + 1);
	c.transfers_us = share_of * (TRANSFER_US * (double)(n->controls - controls) +
				     TUNER_US * (double)(n->i2c - i2c));
	c.settling_us = share_of * (double)(is.settling_us - was.settling_us);
	c.tail_us = share_of * (double)(is.tail_us - was.tail_us);
	c.messages_us = 2 * MESSAGE_US * hops;
	c.listened_us = LOOK_US * hops * looks;
	return c;
}

static void print(const char *what, const struct cost *c, int hops)
{
	print_message("seed %" PRIu64 ", %s: a hop costs %.2f ms of transfers, %.2f settling, %.2f of "
		      "tail and %.2f of messages: %.1f %% listening; %.1f at 6 ms of transfers, %.1f at "
		      "15 ms\n", SEED, what,
		      c->transfers_us * 1e-3 / hops, c->settling_us * 1e-3 / hops,
		      c->tail_us * 1e-3 / hops, c->messages_us * 1e-3 / hops, 100 * share(c, 1),
		      100 * share(c, 6000.0 * hops / c->transfers_us),
		      100 * share(c, 15000.0 * hops / c->transfers_us));
}

/* In the first seconds of a stream all that may be stale is dropped (pace_begin), and how much
 * that is goes by how long the process took to begin. */
static void sweeping_listens_for_60_percent(void **state)
{
	struct scene s;
	struct block b;
	(void)state;

	begin(&s, 0);
	void *self = must_open();
	for (int i = 0; i < SURE; i++)
		look_at(self, centres_hz[CENTRES - 1], &b);
	const struct cost c = spend(self, &s.state->dongles[0].count, HOPS, 1);
	print("sweeping", &c, HOPS);
	if (share(&c, 1) < 0.60)
		fail_msg("listens for %.1f %% of the time", 100 * share(&c, 1));
	source_dongle.close(self);
	end(&s);
}

static void parking_listens_for_95_percent(void **state)
{
	struct scene s;
	(void)state;

	begin(&s, 0);
	void *self = must_open();
	const struct cost c = spend(self, &s.state->dongles[0].count, 1, PARKED);
	print("parking", &c, 1);
	if (share(&c, 1) < 0.95)
		fail_msg("listens for %.1f %% of the time", 100 * share(&c, 1));
	source_dongle.close(self);
	end(&s);
}

/* What the settings and the calibration are held against is the library's own list. */
static void the_gains_are_the_tuners(void **state)
{
	struct source_about about;
	struct scene s;
	(void)state;

	begin(&s, 0);
	void *self = must_open();
	source_dongle.about(self, &about);
	assert_int_equal(about.gains.n, 29);
	assert_int_equal(about.gains.tenth_db[0], 0);
	assert_int_equal(about.gains.tenth_db[28], 496);
	assert_int_equal(gain_steps_nearest(&about.gains, 300), 297);
	source_dongle.close(self);
	end(&s);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(no_sample_is_stale),
		cmocka_unit_test(sweeping_listens_for_60_percent),
		cmocka_unit_test(the_gains_are_the_tuners),
		cmocka_unit_test(parking_listens_for_95_percent),
	};

	if (argc > 1 && strcmp(argv[1], CAPTURE_OPTION) == 0)
		return capture_child();
	return cmocka_run_group_tests(tests, NULL, NULL);
}
