#include "tests/test.h"

#include <string.h>

#include "tests/detect_world.h"
#include "tests/liquid_signals.h"

/* One emission, one channel: the one it is meant for. */
static const struct {
	const char *why;
	enum signal signal;
	int64_t     step_thirds;
	int32_t     width_hz;
	enum mode   mode;
	double      tolerance_hz;       /* how far off it may be */
} emissions[] = {
	{ "11 kHz voice on 2.5 kHz",  SIGNAL_NFM,      7500,   11000,  MODE_NFM, 300 },
	{ "11 kHz voice on 5 kHz",    SIGNAL_NFM,      15000,  11000,  MODE_NFM, 1000 },
	{ "11 kHz voice on 6.25 kHz", SIGNAL_NFM,      18750,  11000,  MODE_NFM, 1000 },
	{ "11 kHz voice on 12.5 kHz", SIGNAL_NFM,      37500,  11000,  MODE_NFM, 2000 },
	{ "16 kHz voice on 2.5 kHz",  SIGNAL_NFM_WIDE, 7500,   16000,  MODE_NFM, 300 },
	{ "16 kHz voice on 5 kHz",    SIGNAL_NFM_WIDE, 15000,  16000,  MODE_NFM, 1000 },
	{ "16 kHz voice on 6.25 kHz", SIGNAL_NFM_WIDE, 18750,  16000,  MODE_NFM, 1000 },
	{ "16 kHz voice on 12.5 kHz", SIGNAL_NFM_WIDE, 37500,  16000,  MODE_NFM, 2000 },
	{ "16 kHz voice, 11 kHz expected, on 12.5 kHz", SIGNAL_NFM_WIDE, 37500, 11000, MODE_NFM, 2000 },
	{ "AM on 25/3 kHz",           SIGNAL_AM,       25000,  6000,   MODE_AM,  1500 },
	{ "AM on 25 kHz",             SIGNAL_AM,       75000,  6000,   MODE_AM,  3000 },
	{ "4FSK on 6.25 kHz",         SIGNAL_4FSK,     18750,  4000,   MODE_NFM, 500 },
	{ "broadcast on 100 kHz",     SIGNAL_WFM,      300000, 180000, MODE_WFM, 10000 },
	{ "a carrier on 12.5 kHz",    SIGNAL_CARRIER,  37500,  11000,  MODE_NFM, 2000 },
};

static void one_emission_opens_one_channel(void **state)
{
	static const double snr_db[] = { 10, 30, 50 };
	enum { TRIALS = 30 };
	(void)state;

	for (size_t i = 0; i < sizeof emissions / sizeof emissions[0]; i++) {
		struct bench b;
		bench_open(&b, emissions[i].step_thirds, emissions[i].width_hz, emissions[i].mode,
			   2400000, (struct sense){ 1e-8, 3 }, 200 + i);
		for (size_t k = 0; k < sizeof snr_db / sizeof snr_db[0]; k++) {
			int wrong = 0, last = 0;
			for (int trial = 0; trial < TRIALS; trial++) {
				int32_t seats = b.hop->spans[0].count;
				int32_t at = (int32_t)noise_between(&b.noise, seats / 8, seats - 1 - seats / 8);
				double off = emissions[i].tolerance_hz * (2 * noise_uniform(&b.noise) - 1);
				fresh_noise(&b);
				signal_add(b.iq, b.block.n, b.block.rate_hz, emissions[i].signal,
					   power_at(&b, snr_db[k]), channel_hz(&b, at) + off,
					   noise_bits(&b.noise));
				const struct judged *j = listen(&b);
				bool good = one_and_right(j, at);
				wrong += !good;
				last = good ? last : trial;
			}
			if (wrong > 1)
				fail_msg("%s at %.0f dB: %d of %d wrong (seed %zu, last trial %d)",
					 emissions[i].why, snr_db[k], wrong, TRIALS, 200 + i, last);
		}
		bench_close(&b);
	}
}

/* A signal and its equal next door are two, whatever is between them. */
static void two_neighbours_are_two(void **state)
{
	static const double snr_db[] = { 15, 30, 45 };
	(void)state;

	for (size_t k = 0; k < sizeof snr_db / sizeof snr_db[0]; k++) {
		struct bench b;
		int right = 0;
		bench_open(&b, 37500, 11000, MODE_NFM, 2400000, (struct sense){ 1e-6, 3 }, 300 + k);
		for (int trial = 0; trial < 50; trial++) {
			int32_t at = (int32_t)noise_between(&b.noise, 10, 140);
			fresh_noise(&b);
			for (int side = 0; side < 2; side++)
				signal_add(b.iq, b.block.n, b.block.rate_hz, SIGNAL_NFM,
					   power_at(&b, snr_db[k]), channel_hz(&b, at + side),
					   noise_bits(&b.noise));
			const struct judged *j = listen(&b);
			right += j->findings == 2 && j->verdict[at] == VERDICT_BUSY &&
				 j->verdict[at + 1] == VERDICT_BUSY;
		}
		if (right < 48)
			fail_msg("%.0f dB: two only %d times of 50 (seed %zu)", snr_db[k], right, 300 + k);
		bench_close(&b);
	}
}

/* A voice 50 dB over the noise of its channel, on each raster as far apart as
 * channels lie there: nothing else in the hop opens. */
static void a_strong_one_opens_nothing_beside_it(void **state)
{
	static const struct {
		const char *why;
		enum signal signal;
		int64_t     step_thirds;
		int32_t     width_hz;
	} rows[] = {
		{ "AM on 25/3 kHz",       SIGNAL_AM,       25000, 6000 },
		{ "11 kHz FM on 12.5",    SIGNAL_NFM,      37500, 11000 },
		{ "16 kHz FM on 25",      SIGNAL_NFM_WIDE, 75000, 16000 },
		{ "16 kHz FM on 12.5",    SIGNAL_NFM_WIDE, 37500, 11000 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct bench b;
		bench_open(&b, rows[i].step_thirds, rows[i].width_hz, MODE_NFM, 2400000,
			   (struct sense){ 1e-8, 3 }, 350 + i);
		for (int trial = 0; trial < 40; trial++) {
			int32_t at = (int32_t)noise_between(&b.noise, 5, b.hop->spans[0].count - 6);
			fresh_noise(&b);
			signal_add(b.iq, b.block.n, b.block.rate_hz, rows[i].signal, power_at(&b, 50),
				   channel_hz(&b, at), noise_bits(&b.noise));
			const struct judged *j = listen(&b);
			if (!one_and_right(j, at))
				fail_msg("%s: %d findings (seed %zu, trial %d)", rows[i].why,
					 j->findings, 350 + i, trial);
		}
		bench_close(&b);
	}
}

/* The dongle's mirror: the same signal on the other side, conjugate, 40 dB down. */
static void a_mirror_image_is_false(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b, 37500, 11000, MODE_NFM, 2400000, (struct sense){ 1e-6, 3 }, 501);
	int32_t seats = b.hop->spans[0].count;
	struct freq turn = { 2 * b.hop->centre.thirds - raster_centre(&b.band[0].raster, 40).thirds };
	int32_t mirror = raster_nearest(&b.band[0].raster, turn);
	assert_in_range(mirror, 0, seats - 1);
	for (int trial = 0; trial < 20; trial++) {
		memset(b.iq, 0, b.block.n * sizeof *b.iq);
		signal_add(b.iq, b.block.n, b.block.rate_hz, SIGNAL_NFM, power_at(&b, 48),
			   channel_hz(&b, 40), noise_bits(&b.noise));
		for (size_t i = 0; i < b.block.n; i++)
			b.iq[i] += 0.01f * conjf(b.iq[i]);
		noise_add(&b.noise, b.iq, b.block.n, NOISE);
		const struct judged *j = listen(&b);
		assert_true(one_and_right(j, 40));
		assert_int_equal(j->verdict[mirror], VERDICT_FALSE);
	}
	bench_close(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(one_emission_opens_one_channel),
		cmocka_unit_test(a_strong_one_opens_nothing_beside_it),
		cmocka_unit_test(two_neighbours_are_two),
		cmocka_unit_test(a_mirror_image_is_false),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
