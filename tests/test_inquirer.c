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

/* Both posts stay on the hop, look by look in turn. */
static void stay(struct bench *b)
{
	for (int k = 0; k < LOOKS; k++)
		for (int i = 0; i < POSTS; i++) {
			struct block block = { .iq = b->iq[i] + (size_t)k * LOOK, .format = SAMPLE_CF32,
					       .n = LOOK, .rate_hz = RATE, .centre = FREQ_HZ(CENTRE),
					       .mono_us = INT64_C(20000) * k };
			struct finding f = { .channel = i, .floor = NOISE * 7500, .width_hz = 9000 };
			inquirer_hear(b->inquirer, i, &block, &(struct judged){ .finding = &f, .findings = 1 });
		}
}

static void overs_are_known_better(void **state)
{
	struct hop hop = { .centre = FREQ_HZ(CENTRE), .rate_hz = RATE, .bins = 384 };
	struct hop_plan hops = { .hops = &hop, .n = 1 };
	struct station station = { .dwell_us = 20000 };
	struct watch_source sources[POSTS] = { { .about = { .tunable = true } }, { 0 } };
	struct watch n = { .sources = sources, .n_sources = POSTS, .station = &station, .bands = &band,
			   .n_bands = 1, .hops = &hops };
	struct bench b;
	(void)state;

	bench_open(&b, &n);
	stay(&b);
	struct transmission speech = { .channel = 0, .kind = KIND_DATA, .confidence = 0.95 };
	struct transmission data = { .channel = 1, .kind = KIND_NFM, .confidence = 0.95 };
	struct transmission other = { .channel = 2, .kind = KIND_AM, .confidence = 0.7 };
	inquirer_answer(b.inquirer, &speech);
	inquirer_answer(b.inquirer, &data);
	inquirer_answer(b.inquirer, &other);
	if (speech.kind != KIND_NFM || speech.below.tone_ddhz != 1413)
		fail_msg("%s with tone %d (seed %d)", kind_name(speech.kind), speech.below.tone_ddhz, SEED);
	if (data.kind != KIND_DATA || data.below.tone_ddhz)
		fail_msg("%s with tone %d (seed %d)", kind_name(data.kind), data.below.tone_ddhz, SEED);
	/* Not heard in a park: as it was. */
	assert_true(other.kind == KIND_AM && other.confidence == 0.7 && other.heard_s == 0 &&
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
	inquirer_destroy(b.inquirer);
	inquirer_destroy(NULL);
	for (int i = 0; i < POSTS; i++)
		free(b.iq[i]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(overs_are_known_better),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
