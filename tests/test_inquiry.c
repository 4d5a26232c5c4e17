#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/inquiry.h"
#include "tests/emitted.h"
#include "tests/noise.h"

#define RATE   480000
#define LOOK   9600             /* 20 ms */
#define LOOKS  80
#define NOISE  1e-7
#define CENTRE 160000000
#define SEED   9500
#define CHANNELS 6

/* Six users of a 12.5 kHz raster, on at once. */
static const struct {
	const char *why;
	int32_t     channel;
	struct emitted e;
	enum kind   kind;
	int32_t     tone_ddhz;
	int         code;
} users[CHANNELS] = {
	{ "FM voice with a tone", 0,
	  { .by = BY_FM, .deviation_hz = 2500,
	    .spoken = { .emphasis = true, .share = 0.85, .tone_hz = 88.5, .tone = 0.15 } },
	  KIND_NFM, 885, 0 },
	{ "FM voice with a code beside it", 1,
	  { .by = BY_FM, .deviation_hz = 2500,
	    .spoken = { .emphasis = true, .share = 0.85, .code = 0411, .code_level = 0.15 } },
	  KIND_NFM, 0, 0411 },
	{ "4FSK", 4, { .by = BY_FSK, .deviation_hz = 1944, .baud = 4800, .bits = 2 }, KIND_DATA, 0, 0 },
	{ "a repeater's tail with nothing but a tone", 7,
	  { .by = BY_FM, .deviation_hz = 2500, .spoken = { .tone_hz = 162.2, .tone = 0.15 } },
	  KIND_NFM, 1622, 0 },
	{ "or a code", 9,
	  { .by = BY_FM, .deviation_hz = 5000, .spoken = { .code = 0754, .code_level = 0.15 } },
	  KIND_NFM, 0, 0754 },
	{ "AM voice", 12, { .by = BY_AM, .deviation_hz = 0.85, .spoken = { .share = 0.85 } }, KIND_AM, 0, 0 },
};

static const struct band band = {
	.id = "test", .mode = MODE_NFM, .width_hz = 11000,
	.raster = { .first = { INT64_C(3) * (CENTRE - 93750) }, .step = { 37500 }, .count = 16 },
};

struct bench {
	struct inquiry *inquiry;
	float complex  *iq;
	int64_t         us;     /* on the clock never stepped */
};

static void bench_open(struct bench *b)
{
	struct noise r = { SEED };
	size_t n = (size_t)LOOK * LOOKS;

	*b = (struct bench){ .inquiry = inquiry_create(RATE, LOOK), .iq = calloc(n, sizeof *b->iq) };
	assert_true(b->inquiry && b->iq);
	noise_add(&r, b->iq, n, NOISE * RATE);
	for (int i = 0; i < CHANNELS; i++)
		emitted_add(b->iq, n, RATE, &users[i].e, 100 * NOISE * 7500,
			    users[i].channel * 12500 - 93750 + 100, SEED + (uint64_t)i);
}

static void bench_close(struct bench *b)
{
	inquiry_destroy(b->inquiry);
	free(b->iq);
}

static void listen(struct bench *b, int from, int to)
{
	for (int k = from; k < to; k++) {
		struct block block = { .iq = b->iq + (size_t)k * LOOK, .format = SAMPLE_CF32, .n = LOOK,
				       .rate_hz = RATE, .centre = FREQ_HZ(CENTRE), .mono_us = b->us };
		b->us += INT64_C(1000000) * LOOK / RATE;
		inquiry_load(b->inquiry, &block);
		for (int i = 0; i < CHANNELS; i++)
			inquiry_hear(b->inquiry, &(struct busy){ &band, 0, users[i].channel, 90, 10000, NOISE, true });
	}
}

static void check_users(struct bench *b, const char *when)
{
	struct answer a;

	for (int i = 0; i < CHANNELS; i++) {
		if (!inquiry_take(b->inquiry, 0, users[i].channel, &a))
			fail_msg("%s: %s was not heard", when, users[i].why);
		if (a.kind != users[i].kind || a.below.tone_ddhz != users[i].tone_ddhz ||
		    a.below.code != users[i].code)
			fail_msg("%s: %s: %s (%.2f), tone %d, code %03o, %.2f s", when, users[i].why,
				 kind_name(a.kind), a.confidence, a.below.tone_ddhz, a.below.code,
				 a.features.seconds);
	}
}

static void six_at_once(void **state)
{
	struct bench b;
	struct answer a;
	(void)state;

	bench_open(&b);
	listen(&b, 0, LOOKS);
	check_users(&b, "in one park");
	assert_false(inquiry_take(b.inquiry, 0, 0, &a));        /* taken: gone   */
	assert_false(inquiry_take(b.inquiry, 0, 6, &a));        /* never listened to */
	bench_close(&b);
}

/* Two visits of 0.8 s with a while between them, as when the receiver swept meanwhile. */
static void a_hole_between(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b);
	listen(&b, 0, LOOKS / 2);
	b.us += 3000000;
	listen(&b, LOOKS / 2, LOOKS);
	check_users(&b, "in two parks");
	bench_close(&b);
}

/* More channels than places: the first ones are told, the others not at all. */
static void places_run_out(void **state)
{
	struct bench b;
	struct answer a;
	struct band fine = band;
	(void)state;

	bench_open(&b);
	fine.raster = (struct raster){ band.raster.first, { 375 }, 2 * INQUIRY_OVERS };
	struct block block = { .iq = b.iq, .format = SAMPLE_CF32, .n = LOOK, .centre = FREQ_HZ(CENTRE) };
	inquiry_load(b.inquiry, &block);
	for (int i = 0; i < 2 * INQUIRY_OVERS; i++)
		inquiry_hear(b.inquiry, &(struct busy){ &fine, 0, i, 0, 10000, NOISE, i % 2 });
	for (int i = 0; i < 2 * INQUIRY_OVERS; i++)
		if (inquiry_take(b.inquiry, 0, i, &a) != (i < INQUIRY_OVERS))
			fail_msg("channel %d", i);
	/* And all are free again. */
	inquiry_hear(b.inquiry, &(struct busy){ &fine, 0, 30, 0, 10000, NOISE, true });
	assert_true(inquiry_take(b.inquiry, 0, 30, &a));
	bench_close(&b);
}

/* Overs that go on elsewhere hold nobody up: who is there now is followed, and what was
 * heard of the others is not forgotten. */
static void followers_go_on(void **state)
{
	struct bench b;
	struct answer a;
	struct band fine = band;
	(void)state;

	bench_open(&b);
	listen(&b, 0, LOOKS / 2);
	b.us += 3000000;
	fine.raster = (struct raster){ band.raster.first, { 375 }, INQUIRY_CHANNELS };
	for (int k = 0; k < 2; k++) {
		struct block block = { .iq = b.iq + k * LOOK, .format = SAMPLE_CF32, .n = LOOK,
				       .centre = FREQ_HZ(CENTRE), .mono_us = b.us + 20000 * k };
		inquiry_load(b.inquiry, &block);
		for (int i = 0; i < INQUIRY_CHANNELS; i++)
			inquiry_hear(b.inquiry, &(struct busy){ &fine, 1, i, 0, 10000, NOISE, true });
	}
	for (int i = 0; i < INQUIRY_CHANNELS; i++)
		if (!inquiry_take(b.inquiry, 1, i, &a) || !(fabs(a.stayed_s - 0.04) <= 0.005))
			fail_msg("channel %d was followed for %.3f s", i, a.stayed_s);
	check_users(&b, "after others");
	bench_close(&b);
}

/* A sweep's looks, one a second: what an over is comes out, and no tone. */
static void swept_over_by_over(void **state)
{
	struct bench b;
	struct answer a;
	(void)state;

	bench_open(&b);
	for (int k = 0; k < LOOKS / 2; k++) {
		struct block block = { .iq = b.iq + (size_t)k * 2 * LOOK, .format = SAMPLE_CF32, .n = LOOK,
				       .centre = FREQ_HZ(CENTRE), .mono_us = k * 1000000 };
		inquiry_load(b.inquiry, &block);
		for (int i = 0; i < CHANNELS; i++)
			inquiry_hear(b.inquiry, &(struct busy){ &band, 0, users[i].channel, 90, 10000,
				     NOISE, false });
	}
	for (int i = 0; i < CHANNELS; i++) {
		assert_true(inquiry_take(b.inquiry, 0, users[i].channel, &a));
		/* A tail is hardly voice without its tone: then nothing is said for sure. */
		bool tail = users[i].e.by == BY_FM && users[i].e.spoken.share <= 0;
		if ((tail ? a.confidence >= KIND_SURE : a.kind != users[i].kind) || a.below.below != BELOW_UNKNOWN ||
		    a.stayed_s > 0)
			fail_msg("%s: %s (%.2f), tone %d, %.2f s", users[i].why, kind_name(a.kind),
				 a.confidence, a.below.tone_ddhz, a.stayed_s);
		/* 24 of them are heard, and then one in sixteen. */
		if (a.features.visits != 25)
			fail_msg("%d visits", a.features.visits);
	}
	bench_close(&b);
}

static void a_broadcaster(void **state)
{
	struct band wide = { .id = "fm", .mode = MODE_WFM, .width_hz = 180000,
			     .raster = { FREQ_HZ(CENTRE + 50000), FREQ_HZ(100000), 1 } };
	struct bench b;
	struct answer a;
	(void)state;

	bench_open(&b);
	memset(b.iq, 0, (size_t)LOOK * LOOKS * sizeof *b.iq);
	struct noise r = { SEED + 1 };
	noise_add(&r, b.iq, (size_t)LOOK * LOOKS, NOISE * RATE);
	emitted_add(b.iq, (size_t)LOOK * LOOKS, RATE, &(struct emitted){ .by = BY_MUSIC,
		    .deviation_hz = 50000 }, 1000 * NOISE * 200000, 50000, 5);
	for (int k = 0; k < LOOKS; k++) {
		struct block block = { .iq = b.iq + (size_t)k * LOOK, .format = SAMPLE_CF32, .n = LOOK,
				       .centre = FREQ_HZ(CENTRE), .mono_us = k * 20000 };
		inquiry_load(b.inquiry, &block);
		inquiry_hear(b.inquiry, &(struct busy){ &wide, 0, 0, 0, 120000, NOISE, true });
	}
	assert_true(inquiry_take(b.inquiry, 0, 0, &a));
	if (a.kind != KIND_WFM || a.below.tone_ddhz || a.features.width_hz < 50000)
		fail_msg("%s (%.2f), %.0f Hz wide (seed %d)", kind_name(a.kind), a.confidence,
			 a.features.width_hz, SEED + 1);
	inquiry_destroy(NULL);
	bench_close(&b);
}

/* How wide an over looks at first decides what is listened to: up to 60 kHz what a narrow receiver may pass, beyond
 * that 200 kHz of broadcast. A carrier 125 kHz beside it has a twentieth of its power, which is outside. */
static void wide_or_narrow(void **state)
{
	struct band wide = { .id = "fm", .mode = MODE_WFM, .width_hz = 180000,
			     .raster = { FREQ_HZ(CENTRE + 50000), FREQ_HZ(100000), 1 } };
	enum { FEW = 10 };
	(void)state;

	for (int is_wide = 0; is_wide < 2; is_wide++) {
		struct bench b = { .inquiry = inquiry_create(RATE, LOOK), .iq = calloc(FEW * LOOK, sizeof *b.iq) };
		struct answer a;
		assert_true(b.inquiry && b.iq);
		emitted_add(b.iq, FEW * LOOK, RATE, &(struct emitted){ .by = BY_MUSIC, .deviation_hz = 50000 },
			    1000 * NOISE * 200000, 50000, 5);
		tone_add(b.iq, FEW * LOOK, 50 * NOISE * 200000, 175000, RATE, 0);
		for (int k = 0; k < FEW; k++) {
			struct block block = { .iq = b.iq + (size_t)k * LOOK, .format = SAMPLE_CF32, .n = LOOK,
					       .centre = FREQ_HZ(CENTRE), .mono_us = k * 20000 };
			inquiry_load(b.inquiry, &block);
			inquiry_hear(b.inquiry, &(struct busy){ &wide, 0, 0, 0, is_wide ? 61000 : 59000, NOISE, true });
		}
		assert_true(inquiry_take(b.inquiry, 0, 0, &a));
		bool broadcast = a.kind == KIND_WFM && a.features.width_hz > 50000 && a.features.width_hz < 140000;
		if (broadcast != (is_wide != 0) || (!is_wide && a.features.width_hz > 20000))
			fail_msg("%s: %s, %.0f Hz wide", is_wide ? "wide" : "narrow", kind_name(a.kind),
				 a.features.width_hz);
		bench_close(&b);
	}
}

/* A channel of 12.5 kHz is listened to 9.4 kHz wide: one 6 kHz beside it is not heard. */
static void a_neighbour_is_not_heard(void **state)
{
	struct bench b = { .inquiry = inquiry_create(RATE, LOOK), .iq = calloc(LOOK, sizeof *b.iq) };
	struct answer a;
	(void)state;

	assert_true(b.inquiry && b.iq);
	struct block block = { .iq = b.iq, .format = SAMPLE_CF32, .n = LOOK, .centre = FREQ_HZ(CENTRE) };
	tone_add(b.iq, LOOK, 1, 4 * 12500 - 93750, RATE, 0);
	tone_add(b.iq, LOOK, 0.5, 4 * 12500 - 93750 + 6000, RATE, 0);
	inquiry_load(b.inquiry, &block);
	inquiry_hear(b.inquiry, &(struct busy){ &band, 0, 4, 0, 10000, NOISE, false });
	assert_true(inquiry_take(b.inquiry, 0, 4, &a));
	if (a.features.frames < 1 || !(a.features.width_hz < 1000) || !(fabs(a.features.offset_hz) < 100))
		fail_msg("%d frames, %.0f Hz wide at %+.0f Hz", a.features.frames, a.features.width_hz,
			 a.features.offset_hz);
	bench_close(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(six_at_once),
		cmocka_unit_test(a_hole_between),
		cmocka_unit_test(places_run_out),
		cmocka_unit_test(followers_go_on),
		cmocka_unit_test(swept_over_by_over),
		cmocka_unit_test(a_broadcaster),
		cmocka_unit_test(wide_or_narrow),
		cmocka_unit_test(a_neighbour_is_not_heard),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
