#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/chance.h"
#include "dsp/detect.h"
#include "dsp/floor.h"
#include "dsp/hop.h"
#include "dsp/look.h"
#include "tests/liquid_signals.h"
#include "tests/noise.h"

#define NOISE   1e-4            /* mean power of the noise over the whole rate */
#define LEARN   128
#define BANDS   4

/* One hop over one band or a few, and what judges it. The floor learns noise once
 * and no more, for a test may show the same signal a thousand times. */
struct bench {
	struct band     band[BANDS];
	int             n_bands;
	struct hop_plan plan;
	struct hop     *hop;
	struct channeliser *channeliser;
	struct floor   *floor;
	struct detector *detector;
	struct look    *look;
	float complex  *iq;
	bool           *open;
	struct block    block;
	struct noise    noise;
};

static void fresh_noise(struct bench *b)
{
	memset(b->iq, 0, b->block.n * sizeof *b->iq);
	noise_add(&b->noise, b->iq, b->block.n, NOISE);
}

static void bench_start(struct bench *b, int32_t rate_hz, int64_t look_us, struct sense sense,
			uint64_t seed)
{
	int seats = 0;

	assert_int_equal(hop_plan_sweep(&b->plan, b->band, b->n_bands, rate_hz), 0);
	b->hop = &b->plan.hops[0];
	for (int i = 0; i < b->hop->n_spans; i++)
		seats += b->hop->spans[i].count;
	size_t n = look_samples(rate_hz, b->hop->bins, look_us);
	b->channeliser = channeliser_create(rate_hz, b->hop->bins, n);
	assert_non_null(b->channeliser);
	const struct look *like = channeliser_like(b->channeliser);
	const struct spectrum *s = channeliser_spectrum(b->channeliser);
	b->floor = floor_create(like, spectrum_window(s), spectrum_hop(s), false);
	b->detector = detector_create(&sense, like, spectrum_window(s), spectrum_hop(s), b->band,
				      b->n_bands, seats);
	b->iq = calloc(n, sizeof *b->iq);
	b->open = calloc((size_t)seats, sizeof *b->open);
	assert_true(b->floor && b->detector && b->iq && b->open);
	b->noise.state = seed;
	b->block = (struct block){ .iq = b->iq, .format = SAMPLE_CF32, .n = n, .rate_hz = rate_hz,
				   .centre = b->hop->centre };
	for (int i = 0; i < LEARN; i++) {
		fresh_noise(b);
		floor_learn(b->floor, channeliser_look(b->channeliser, &b->block));
	}
	floor_settle(b->floor);
}

/* A hop full of one band's channels. */
static void bench_open(struct bench *b, int64_t step_thirds, int32_t width_hz, enum mode mode,
		       int32_t rate_hz, struct sense sense, uint64_t seed)
{
	*b = (struct bench){ .n_bands = 1 };
	b->band[0] = (struct band){ .id = "test", .mode = mode, .width_hz = width_hz,
				    .raster = { FREQ_KHZ(150000), { step_thirds }, 4000 } };
	bench_start(b, rate_hz, 20000, sense, seed);
}

static void bench_close(struct bench *b)
{
	detector_destroy(b->detector);
	floor_destroy(b->floor);
	channeliser_destroy(b->channeliser);
	hop_plan_free(&b->plan);
	free(b->iq);
	free(b->open);
}

static double channel_hz(const struct bench *b, int32_t channel)
{
	struct freq f = raster_centre(&b->band[0].raster, channel);
	return freq_to_hz((struct freq){ f.thirds - b->hop->centre.thirds });
}

/* Power at which a signal stands so far over the noise of a measured width. */
static double power_at(const struct bench *b, double snr_db)
{
	return pow(10, snr_db / 10) * NOISE * band_measured_hz(&b->band[0]) / b->block.rate_hz;
}

static const struct judged *listen_to(struct bench *b, const struct block *block)
{
	b->look = channeliser_look(b->channeliser, block);
	floor_judge(b->floor, b->look);
	return detector_judge(b->detector, b->look, b->floor, b->hop, b->open);
}

static const struct judged *listen(struct bench *b)
{
	return listen_to(b, &b->block);
}

/* Four channels far apart, one band each, so that none shades another. */
static void far_apart(struct bench *b)
{
	static const int32_t at_khz[BANDS] = { 0, 50, 100, 150 };

	*b = (struct bench){ .n_bands = BANDS };
	for (int i = 0; i < BANDS; i++)
		b->band[i] = (struct band){ .width_hz = 12500, .mode = MODE_NFM,
					    .raster = { FREQ_KHZ(150000 + at_khz[i]), { 37500 }, 1 } };
}

/* False alarms in 20000 looks at four empty channels. The rate asked for is shared
 * between the whole look and its slices, which see some of the same noise: a part
 * of their share is not used. */
static const struct {
	const char  *why;
	int64_t      look_us;
	struct sense sense;
	double       least, most;       /* of the stated rate, beside four sigma */
} quiet[] = {
	{ "a usual look, no margin",                20000, { 1e-3, 0 }, 0.6, 1.1 },
	{ "the same at a rate that tells more",     20000, { 1e-2, 0 }, 0.6, 1.1 },
	{ "few averages: noise alone reaches 3 dB", 2000,  { 1e-3, 3 }, 0.9, 1.15 },
	{ "few averages, a higher rate",            2000,  { 1e-2, 0 }, 0.9, 1.1 },
	{ "3 dB is out of reach but for slices",    20000, { 1e-3, 3 }, 0.3, 0.5 },
};

static void false_alarms_are_as_stated(void **state)
{
	enum { LOOKS = 20000 };
	(void)state;

	for (size_t i = 0; i < sizeof quiet / sizeof quiet[0]; i++) {
		struct bench b;
		far_apart(&b);
		bench_start(&b, 240000, quiet[i].look_us, quiet[i].sense, 70 + i);
		int alarms = 0;
		for (int look = 0; look < LOOKS; look++) {
			fresh_noise(&b);
			const struct judged *j = listen(&b);
			for (int s = 0; s < j->seats; s++)
				alarms += j->verdict[s] != VERDICT_IDLE;
		}
		double want = LOOKS * BANDS * quiet[i].sense.pfa;
		double least = quiet[i].least * want - 4 * sqrt(quiet[i].least * want);
		double most = quiet[i].most * want + 4 * sqrt(quiet[i].most * want);
		if (alarms < least || alarms > most)
			fail_msg("%s: %d alarms, want %.0f to %.0f (seed %zu)", quiet[i].why, alarms,
				 least, most, 70 + i);
		bench_close(&b);
	}
}

/* A carrier in 147.37 degrees of noise, 1e-3 stated, 5e-4 for the whole look:
 * scipy.stats.ncx2.sf(2 nu T, 2 nu, 2 nu s), COMPUTED by tests/outside/found.py. */
static const struct {
	double snr_db, found;
} carriers[] = {
	{ -7.5, 0.1160 },
	{ -6.5, 0.2371 },
	{ -5.5, 0.4450 },
	{ -5.0, 0.5761 },
	{ -4.0, 0.8279 },
	{ -2.5, 0.9906 },
};

static void found_as_often_as_theory_says(void **state)
{
	enum { LOOKS = 1500 };
	(void)state;

	for (size_t i = 0; i < sizeof carriers / sizeof carriers[0]; i++) {
		struct bench b;
		int found = 0;
		far_apart(&b);
		bench_start(&b, 240000, 20000, (struct sense){ 1e-3, 0 }, 90 + i);
		for (int look = 0; look < LOOKS; look++) {
			fresh_noise(&b);
			tone_add(b.iq, b.block.n, power_at(&b, carriers[i].snr_db),
				 channel_hz(&b, 0) + 4000 * (noise_uniform(&b.noise) - 0.5), 240000,
				 6 * noise_uniform(&b.noise));
			found += listen(&b)->verdict[0] != VERDICT_IDLE;
		}
		double got = (double)found / LOOKS, want = carriers[i].found;
		double sigma = sqrt(want * (1 - want) / LOOKS);
		if (fabs(got - want) > 4 * sigma + 0.03)
			fail_msg("%.2f dB: found %.3f, theory %.3f (seed %zu)", carriers[i].snr_db, got,
				 want, 90 + i);
		bench_close(&b);
	}
}

static void empty_hops_open_nothing(void **state)
{
	struct bench b;
	int opened = 0;
	(void)state;

	bench_open(&b, 37500, 11000, MODE_NFM, 240000, (struct sense){ 1e-6, 3 }, 31);
	for (int look = 0; look < 3000; look++) {
		fresh_noise(&b);
		opened += listen(&b)->findings;
	}
	assert_int_equal(opened, 0);
	bench_close(&b);
}

/* A level between holding and opening keeps what is open and opens nothing. Half
 * way is 0.75 dB from either; one look of a carrier there scatters by 0.32 dB, so
 * one in a hundred crosses a line. */
static void an_open_channel_stays_open(void **state)
{
	enum { LOOKS = 300 };
	struct bench b;
	int32_t at = 5;
	int opened = 0, held = 0;
	(void)state;

	bench_open(&b, 37500, 11000, MODE_NFM, 240000, (struct sense){ 1e-8, 3.5 }, 32);
	assert_true(fabs(10 * log10(detector_opens(b.detector, 0)) - 3.5) < 1e-9);
	assert_true(fabs(10 * log10(detector_holds(b.detector, 0)) - 2) < 1e-9);
	double snr = 10 * log10(pow(10, 0.275) - 1);    /* signal and noise at 2.75 dB */
	for (int look = 0; look < LOOKS; look++) {
		fresh_noise(&b);
		tone_add(b.iq, b.block.n, power_at(&b, snr), channel_hz(&b, at), 240000, 1);
		b.open[at] = false;
		opened += listen(&b)->verdict[at] == VERDICT_BUSY;
		b.open[at] = true;
		held += listen(&b)->verdict[at] == VERDICT_BUSY;
	}
	if (opened > LOOKS / 20 || held < LOOKS - LOOKS / 20)
		fail_msg("opened %d times and held %d of %d (seed 32)", opened, held, LOOKS);
	bench_close(&b);
}

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

static bool one_and_right(const struct judged *j, int32_t channel)
{
	return j->findings == 1 && j->finding[0].channel == channel &&
	       j->verdict[j->finding[0].seat] == VERDICT_BUSY;
}

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

/* Two milliseconds of voice somewhere in the look, 20 dB over the noise then. */
static void a_short_burst_is_seen_and_timed(void **state)
{
	struct bench b;
	double seen = 0, busy_us = 0;
	(void)state;

	bench_open(&b, 37500, 11000, MODE_NFM, 2400000, (struct sense){ 1e-6, 3 }, 400);
	for (int trial = 0; trial < 100; trial++) {
		size_t start = (size_t)noise_between(&b.noise, 0, (int64_t)b.block.n - 4800);
		fresh_noise(&b);
		signal_add(b.iq + start, 4800, b.block.rate_hz, SIGNAL_NFM, power_at(&b, 20),
			   channel_hz(&b, 40), noise_bits(&b.noise));
		const struct judged *j = listen(&b);
		if (!one_and_right(j, 40))
			continue;
		const struct look *l = b.look;
		seen++;
		busy_us += (double)(look_slice_us(l, j->finding[0].last_slice + 1) -
				    look_slice_us(l, j->finding[0].first_slice));
	}
	if (seen < 97)
		fail_msg("seen %.0f times of 100 (seed 400)", seen);
	/* A slice is 1.6 ms: two or three are touched. */
	if (busy_us / seen < 2000 || busy_us / seen > 4500)
		fail_msg("2000 us read %.0f (seed 400)", busy_us / seen);
	bench_close(&b);
}

/* More than a hundredth of the samples at the end of the range: only the strongest
 * is believed. */
static void clipping_is_overload(void **state)
{
	static const struct {
		const char *why;
		double      power;
		bool        overload;
	} rows[] = {
		{ "two carriers well inside the range", 0.05, false },
		{ "two carriers far beyond it",         1.5,  true },
	};
	uint8_t *bytes;
	struct bench b;
	(void)state;

	bench_open(&b, 37500, 11000, MODE_NFM, 2400000, (struct sense){ 1e-6, 3 }, 500);
	bytes = malloc(2 * b.block.n);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		fresh_noise(&b);
		tone_add(b.iq, b.block.n, rows[i].power, channel_hz(&b, 30), 2400000, 0);
		tone_add(b.iq, b.block.n, 0.5 * rows[i].power, channel_hz(&b, 100), 2400000, 1);
		bytes_from(b.iq, b.block.n, bytes);
		struct block c = b.block;
		c.iq = bytes;
		c.format = SAMPLE_CU8;
		const struct judged *j = listen_to(&b, &c);
		if (j->overload != rows[i].overload || j->findings != (rows[i].overload ? 1 : 2))
			fail_msg("%s: overload %d, %d findings", rows[i].why, j->overload, j->findings);
		for (int s = 0; s < j->seats; s++)
			if (rows[i].overload && j->verdict[s] == VERDICT_IDLE)
				fail_msg("%s: channel %d is called idle", rows[i].why, s);
		assert_int_equal(j->finding[0].channel, 30);
	}
	free(bytes);
	bench_close(&b);
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
		cmocka_unit_test(false_alarms_are_as_stated),
		cmocka_unit_test(found_as_often_as_theory_says),
		cmocka_unit_test(empty_hops_open_nothing),
		cmocka_unit_test(an_open_channel_stays_open),
		cmocka_unit_test(one_emission_opens_one_channel),
		cmocka_unit_test(a_strong_one_opens_nothing_beside_it),
		cmocka_unit_test(two_neighbours_are_two),
		cmocka_unit_test(a_short_burst_is_seen_and_timed),
		cmocka_unit_test(clipping_is_overload),
		cmocka_unit_test(a_mirror_image_is_false),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
