#include "tests/test.h"

#include <math.h>
#include <stdlib.h>

#include "tests/detect_world.h"
#include "tests/liquid_signals.h"

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

/* A carrier in 147.37 degrees of noise, 1e-3 stated, 8.55e-4 for the whole look:
 * scipy.stats.ncx2.sf(2 nu T, 2 nu, 2 nu s), COMPUTED by tests/outside/found.py. */
static const struct {
	double snr_db, found;
} carriers[] = {
	{ -7.5, 0.1474 },
	{ -6.5, 0.2846 },
	{ -5.5, 0.5027 },
	{ -5.0, 0.6317 },
	{ -4.0, 0.8620 },
	{ -2.5, 0.9936 },
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
		if (!(fabs(got - want) <= 4 * sigma + 0.015))
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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(false_alarms_are_as_stated),
		cmocka_unit_test(found_as_often_as_theory_says),
		cmocka_unit_test(empty_hops_open_nothing),
		cmocka_unit_test(an_open_channel_stays_open),
		cmocka_unit_test(a_short_burst_is_seen_and_timed),
		cmocka_unit_test(clipping_is_overload),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
