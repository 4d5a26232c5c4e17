#include "tests/test.h"

#include <math.h>
#include <stdlib.h>

#include "daemon/inquirer.h"
#include "tests/emitted.h"
#include "tests/noise.h"

#define RATE   480000
#define LOOK   9600             /* 20 ms */
#define LOOKS  60
#define NOISE  1e-7
#define CENTRE 160000000
#define SEED   9700
#define POSTS  2

static const struct band band = {
	.id = "test", .mode = MODE_NFM, .width_hz = 11000,
	.raster = { .first = { INT64_C(3) * (CENTRE + 12500) }, .step = { 37500 }, .count = 4 },
};

/* What each post hears, on the same channel of its own band plan's. */
static const struct emitted heard[POSTS] = {
	{ .by = BY_FM, .deviation_hz = 2500,
	  .spoken = { .emphasis = true, .share = 0.85, .tone_hz = 141.3, .tone = 0.15 } },
	{ .by = BY_FSK, .deviation_hz = 1944, .baud = 4800, .bits = 2 },
};

struct bench {
	struct inquirer *inquirer;
	float complex   *iq[POSTS];
};

static void bench_open(struct bench *b, const struct watch *n)
{
	struct noise r = { SEED };
	size_t all = (size_t)LOOK * LOOKS;

	b->inquirer = inquirer_create(n);
	assert_non_null(b->inquirer);
	for (int i = 0; i < POSTS; i++) {
		b->iq[i] = calloc(all, sizeof *b->iq[i]);
		assert_non_null(b->iq[i]);
		noise_add(&r, b->iq[i], all, NOISE * RATE);
		emitted_add(b->iq[i], all, RATE, &heard[i], 100 * NOISE * 7500, 12500 * (1 + i),
			    SEED + (uint64_t)i);
	}
}

static void bench_close(struct bench *b)
{
	inquirer_destroy(b->inquirer);
	inquirer_destroy(NULL);
	for (int i = 0; i < POSTS; i++)
		free(b->iq[i]);
}

/* Both posts look at the hop in turn, so far apart. */
static void listen(struct bench *b, int64_t apart_us, bool stays)
{
	for (int k = 0; k < LOOKS; k++)
		for (int i = 0; i < POSTS; i++) {
			struct block block = { .iq = b->iq[i] + (size_t)k * LOOK, .format = SAMPLE_CF32,
					       .n = LOOK, .rate_hz = RATE, .centre = FREQ_HZ(CENTRE),
					       .mono_us = apart_us * k };
			struct finding f = { .channel = i, .floor = NOISE * 7500, .width_hz = 9000 };
			inquirer_hear(b->inquirer, i, &block, &(struct judged){ .finding = &f, .findings = 1 },
				      stays);
		}
}

static const struct hop hop = { .centre = FREQ_HZ(CENTRE), .rate_hz = RATE, .bins = 384 };
static const struct station station = { .dwell_us = 20000 };
static struct watch_source sources[POSTS] = { { .about = { .tunable = true } }, { 0 } };

/* What a watch over both posts is to an inquirer; hops: to be filled, borrowed. */
static struct watch watch_over(struct hop_plan *hops, struct hop *copy)
{
	*copy = hop;
	*hops = (struct hop_plan){ .hops = copy, .n = 1 };
	return (struct watch){ .sources = sources, .n_sources = POSTS, .station = &station,
			       .bands = &band, .n_bands = 1, .hops = hops };
}

static void parks_tell_all(void **state)
{
	struct hop_plan hops;
	struct hop copy;
	struct watch n = watch_over(&hops, &copy);
	struct bench b;
	(void)state;

	bench_open(&b, &n);
	listen(&b, 20000, true);
	struct transmission speech = { .channel = 0 }, data = { .channel = 1 }, other = { .channel = 2 };
	inquirer_answer(b.inquirer, &speech);
	inquirer_answer(b.inquirer, &data);
	inquirer_answer(b.inquirer, &other);
	if (speech.kind != KIND_NFM || speech.below.tone_ddhz != 1413)
		fail_msg("%s with tone %d (seed %d)", kind_name(speech.kind), speech.below.tone_ddhz, SEED);
	if (data.kind != KIND_DATA || data.below.tone_ddhz)
		fail_msg("%s with tone %d (seed %d)", kind_name(data.kind), data.below.tone_ddhz, SEED);
	/* Not listened to: nothing is said of it. */
	assert_true(other.kind == KIND_UNKNOWN && other.confidence <= 0 && other.heard_s <= 0 &&
		    other.below.below == BELOW_UNKNOWN);
	/* 1.2 s of each, less the filter's beginning and the frame begun last. */
	if (fabs(speech.heard_s - 1.2) > 0.1 || fabs(data.heard_s - 1.2) > 0.1)
		fail_msg("heard for %.3f and %.3f s (seed %d)", speech.heard_s, data.heard_s, SEED);
	/* Carson's width of 2.5 kHz and speech up to 3 kHz is 11 kHz; speech fills less. */
	if (speech.deviation_hz < 1800 || speech.deviation_hz > 2900 || speech.am_depth > 0 ||
	    speech.occupied_hz < 3000 || speech.occupied_hz > 11000 ||
	    speech.down26_hz < speech.occupied_hz / 2)
		fail_msg("deviation %.0f Hz, 99 %% %.0f Hz, 26 dB %.0f Hz (seed %d)", speech.deviation_hz,
			 speech.occupied_hz, speech.down26_hz, SEED);
	assert_true(data.deviation_hz <= 0 && data.am_depth <= 0 && data.occupied_hz > 4000);
	bench_close(&b);
}

/* A sweep comes by once a second: kinds are told, and what takes a stay is not. */
static void sweeps_tell_kinds(void **state)
{
	struct hop_plan hops;
	struct hop copy;
	struct watch n = watch_over(&hops, &copy);
	struct bench b;
	(void)state;

	bench_open(&b, &n);
	listen(&b, 1000000, false);
	struct transmission speech = { .channel = 0 }, data = { .channel = 1 };
	inquirer_answer(b.inquirer, &speech);
	inquirer_answer(b.inquirer, &data);
	if (speech.kind != KIND_NFM || data.kind != KIND_DATA)
		fail_msg("%s and %s (seed %d)", kind_name(speech.kind), kind_name(data.kind), SEED);
	assert_true(speech.heard_s <= 0 && speech.occupied_hz <= 0 && speech.deviation_hz <= 0 &&
		    speech.below.below == BELOW_UNKNOWN);
	bench_close(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(parks_tell_all),
		cmocka_unit_test(sweeps_tell_kinds),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
