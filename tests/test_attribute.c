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

/* Two that keep as far apart as such services do, keyed each for itself: looks at one,
 * at the other and at both tell exactly those, on every raster they may be found with. */
static const struct {
	const char *why;
	enum signal signal;
	int64_t     step_thirds;
	int32_t     width_hz;
	enum mode   mode;
	int32_t     apart;              /* channels */
} pairs[] = {
	{ "11 kHz voices, 12.5 kHz apart on 2.5 kHz",   SIGNAL_NFM,      7500,   11000,  MODE_NFM, 5 },
	{ "11 kHz voices, 15 kHz apart on 5 kHz",       SIGNAL_NFM,      15000,  11000,  MODE_NFM, 3 },
	{ "11 kHz voices, 12.5 kHz apart on 6.25 kHz",  SIGNAL_NFM,      18750,  11000,  MODE_NFM, 2 },
	{ "11 kHz voices, 12.5 kHz apart on 12.5 kHz",  SIGNAL_NFM,      37500,  11000,  MODE_NFM, 1 },
	{ "16 kHz voices, 25 kHz apart on 2.5 kHz",     SIGNAL_NFM_WIDE, 7500,   16000,  MODE_NFM, 10 },
	{ "16 kHz voices, 25 kHz apart on 5 kHz",       SIGNAL_NFM_WIDE, 15000,  16000,  MODE_NFM, 5 },
	{ "16 kHz voices, 25 kHz apart on 6.25 kHz",    SIGNAL_NFM_WIDE, 18750,  16000,  MODE_NFM, 4 },
	{ "16 kHz voices, 25 kHz apart on 12.5 kHz",    SIGNAL_NFM_WIDE, 37500,  16000,  MODE_NFM, 2 },
	{ "AM, 25/3 kHz apart on 25/3 kHz",             SIGNAL_AM,       25000,  6000,   MODE_AM,  1 },
	{ "AM, 25 kHz apart on 25 kHz",                 SIGNAL_AM,       75000,  6000,   MODE_AM,  1 },
	{ "2FSK, 6.25 kHz apart on 6.25 kHz",           SIGNAL_2FSK,     18750,  4000,   MODE_NFM, 1 },
	{ "4FSK, 12.5 kHz apart on 6.25 kHz",           SIGNAL_4FSK,     18750,  8000,   MODE_NFM, 2 },
	{ "broadcast, 200 kHz apart on 100 kHz",        SIGNAL_WFM,      300000, 180000, MODE_WFM, 2 },
};

static bool told_exactly(const struct judged *j, int32_t a, int32_t b, int keyed)
{
	int found = 0;
	for (int i = 0; i < j->findings; i++)
		found |= j->finding[i].channel == a ? 1 : j->finding[i].channel == b ? 2 : 4;
	return found == keyed && j->findings == (keyed == 3 ? 2 : 1);
}

static void two_neighbours_are_two(void **state)
{
	static const double snr_db[] = { 15, 30, 45 };
	enum { TRIALS = 10 };
	(void)state;

	for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
		struct bench b;
		bench_open(&b, pairs[i].step_thirds, pairs[i].width_hz, pairs[i].mode, 2400000,
			   (struct sense){ 1e-8, 3 }, 300 + i);
		int32_t seats = b.hop->spans[0].count, apart = pairs[i].apart;
		for (size_t k = 0; k < 3 * sizeof snr_db / sizeof snr_db[0]; k++) {
			int keyed = (int)(k % 3) + 1, wrong = 0;
			for (int trial = 0; trial < TRIALS; trial++) {
				int32_t at = (int32_t)noise_between(&b.noise, seats / 8,
								    seats - 1 - seats / 8 - apart);
				fresh_noise(&b);
				for (int side = 0; side < 2; side++)
					if (keyed >> side & 1)
						signal_add(b.iq, b.block.n, b.block.rate_hz, pairs[i].signal,
							   power_at(&b, snr_db[k / 3]),
							   channel_hz(&b, at + side * apart),
							   noise_bits(&b.noise));
				wrong += !told_exactly(listen(&b), at, at + apart, keyed);
			}
			if (wrong > 1)
				fail_msg("%s at %.0f dB, keyed %d: %d of %d wrong (seed %zu)", pairs[i].why,
					 snr_db[k / 3], keyed, wrong, TRIALS, 300 + i);
		}
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
