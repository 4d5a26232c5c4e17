#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/discriminator.h"
#include "dsp/zoom.h"
#include "tests/noise.h"

#define SEED 800
#define MOST 60000

/* Rates of dongles and recordings, and what a zoom makes of them. */
static const struct {
	const char *why;
	int32_t rate_hz;
	double  want_hz;
} rates[] = {
	{ "the usual rate",               2400000, ZOOM_NARROW_HZ },
	{ "a rate of powers of two",      2048000, ZOOM_NARROW_HZ },
	{ "the slowest of a dongle",      1024000, ZOOM_NARROW_HZ },
	{ "a recording's rate",           1600000, ZOOM_NARROW_HZ },
	{ "no whole multiple",             280000, ZOOM_NARROW_HZ },
	{ "so slow that one filter does",  100000, ZOOM_NARROW_HZ },
	{ "a wide channel",               2400000, ZOOM_WIDE_HZ },
	{ "a wide channel, odd rate",     1024000, ZOOM_WIDE_HZ },
};

struct bench {
	struct reel *reel;
	struct zoom *zoom;
	float complex *iq;
	int32_t rate_hz;
};

static void bench_open(struct bench *b, int32_t rate_hz, double want_hz)
{
	*b = (struct bench){ .reel = reel_create(rate_hz, MOST), .rate_hz = rate_hz,
			     .zoom = zoom_create(rate_hz, MOST, want_hz),
			     .iq = calloc(MOST, sizeof *b->iq) };
	assert_true(b->reel && b->zoom && b->iq);
}

static void bench_close(struct bench *b)
{
	reel_destroy(b->reel);
	zoom_destroy(b->zoom);
	free(b->iq);
}

static size_t draw(struct bench *b, size_t n)
{
	reel_load(b->reel, &(struct block){ .iq = b->iq, .format = SAMPLE_CF32, .n = n,
					    .rate_hz = b->rate_hz });
	return zoom_draw(b->zoom, b->reel, 0, n);
}

/* Mean power of a line of power 1 at hz when the zoom is aimed at `offset`. */
static double passes(struct bench *b, double offset, double pass_hz, double hz)
{
	double power = 0;

	memset(b->iq, 0, MOST * sizeof *b->iq);
	tone_add(b->iq, MOST, 1, hz, b->rate_hz, 0.3);
	zoom_aim(b->zoom, offset, pass_hz);
	size_t n = draw(b, MOST);
	for (size_t i = 0; i < n; i++)
		power += pow(cabsf(zoom_out(b->zoom)[i]), 2) / (double)n;
	return power;
}

static void passes_the_channel_and_nothing_else(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
		struct bench b;
		bench_open(&b, rates[i].rate_hz, rates[i].want_hz);
		double rate = zoom_rate(b.zoom);
		if (rate < 0.8 * rates[i].want_hz || rate > 1.4 * rates[i].want_hz)
			fail_msg("%s: comes down to %.0f", rates[i].why, rate);
		double pass = 0.55 * rate, offset = -0.123 * b.rate_hz;
		for (double x = -0.49; x < 0.5; x += 0.02) {
			double at = x * pass, db = 10 * log10(passes(&b, offset, pass, offset + at));
			if (!(fabs(db) <= 0.1))
				fail_msg("%s: %.0f Hz off reads %.2f dB", rates[i].why, at, db);
		}
		bool wide = rates[i].want_hz == ZOOM_WIDE_HZ;
		for (double hz = -0.49 * b.rate_hz; hz < 0.49 * b.rate_hz; hz += 0.0137 * b.rate_hz) {
			/* The wide one folds its outermost parts upon each other. */
			double off = fabs(hz - offset), from = pass / 2 + (wide ? 0.25 : 0.151) * rate;
			double db = off > from ? 10 * log10(passes(&b, offset, pass, hz) + 1e-30) : -99;
			if (db > -60 && !(wide && off < 0.65 * rate))
				fail_msg("%s: a line %.0f Hz off still reads %.1f dB", rates[i].why, off, db);
		}
		bench_close(&b);
	}
}

/* A line may be taken in blocks of any size: the output is that of one piece. */
static void blocks_leave_no_seam(void **state)
{
	static const size_t pieces[] = { 48000, 1, 17, 960, 24, 4000, 6998 };
	struct bench b;
	struct noise r = { SEED };
	(void)state;

	bench_open(&b, 2400000, ZOOM_NARROW_HZ);
	noise_add(&r, b.iq, MOST, 1);
	for (size_t i = 0; i < MOST; i++)       /* each block's own mean is taken off it */
		b.iq[i] = i % 2 ? -b.iq[i - 1] : b.iq[i];
	zoom_aim(b.zoom, 1199000, 8000);
	size_t whole = draw(&b, MOST);
	float complex *want = malloc(whole * sizeof *want);
	memcpy(want, zoom_out(b.zoom), whole * sizeof *want);
	zoom_aim(b.zoom, 1199000, 8000);
	size_t at = 0, got = 0;
	for (size_t i = 0; i < sizeof pieces / sizeof pieces[0]; at += pieces[i++]) {
		struct block block = { .iq = b.iq + at, .format = SAMPLE_CF32, .n = pieces[i] };
		reel_load(b.reel, &block);
		size_t n = zoom_draw(b.zoom, b.reel, 0, pieces[i]);
		for (size_t k = 0; k < n; k++, got++)
			if (cabsf(zoom_out(b.zoom)[k] - want[got]) > 0.02)
				fail_msg("sample %zu, of piece %zu, is %.3g off", got, i,
					 cabsf(zoom_out(b.zoom)[k] - want[got]));
	}
	assert_int_equal(got, whole);
	free(want);
	bench_close(&b);
}

static void noise_is_as_wide_as_it_says(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
		struct bench b;
		struct noise r = { SEED + 1 };
		double power = 0;
		size_t all = 0;
		bench_open(&b, rates[i].rate_hz, rates[i].want_hz);
		zoom_aim(b.zoom, 0.2 * b.rate_hz, 0.4 * zoom_rate(b.zoom));
		for (int k = 0; k < 20; k++) {
			memset(b.iq, 0, MOST * sizeof *b.iq);
			noise_add(&r, b.iq, MOST, b.rate_hz);
			size_t n = draw(&b, MOST);
			for (size_t j = 0; j < n; j++, all++)
				power += pow(cabsf(zoom_out(b.zoom)[j]), 2);
		}
		/* Neighbouring samples move together a little: five sigma of half as many. */
		double ratio = power / (double)all / zoom_noise_hz(b.zoom);
		if (!(fabs(ratio - 1) <= 5 / sqrt(0.5 * (double)all)))
			fail_msg("%s: %.4f of the noise width (seed %d)", rates[i].why, ratio, SEED + 1);
		bench_close(&b);
	}
}

static void only_the_part_asked_for(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b, 2400000, ZOOM_NARROW_HZ);
	for (size_t i = 0; i < MOST; i++)
		b.iq[i] = i < 20000 ? 100 : i >= 40000 ? -100 : i % 2 ? 1 : -1;
	reel_load(b.reel, &(struct block){ .iq = b.iq, .format = SAMPLE_CF32, .n = MOST });
	zoom_aim(b.zoom, 1200000, 8000);        /* the line that i % 2 makes */
	size_t n = zoom_draw(b.zoom, b.reel, 20000, 40000);
	assert_true(n > 170 && n < 209);
	for (size_t i = 0; i < n; i++)
		if (!(fabs(cabsf(zoom_out(b.zoom)[i]) - 1) <= 0.01))
			fail_msg("sample %zu is %g", i, cabsf(zoom_out(b.zoom)[i]));
	zoom_aim(b.zoom, 0, 8000);
	assert_int_equal(zoom_draw(b.zoom, b.reel, 59000, 90000), 0);
	assert_int_equal(reel_samples(b.reel), MOST);
	reel_destroy(NULL);
	zoom_destroy(NULL);
	bench_close(&b);
}

/* Frequency out of pieces, sign and all. */
static void frequency_of_a_line(void **state)
{
	struct discriminator d = { 0 };
	float complex x[1000] = { 0 };
	float hz[1000];
	(void)state;

	tone_add(x, 1000, 4, -1234.5, 25000, 1);
	discriminator_feed(&d, x, 300, 25000, hz);
	discriminator_feed(&d, x + 300, 700, 25000, hz + 300);
	for (size_t i = 0; i < 1000; i++)
		if (!(fabs(hz[i] - (i ? -1234.5 : 0)) <= 0.1))
			fail_msg("value %zu is %.2f Hz", i, (double)hz[i]);
}

/* Its one filter is all that a wide zoom has: where that leaves the rate, it stays. */
static void a_wide_zoom_has_one_filter(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b, 480000, ZOOM_WIDE_HZ);
	assert_true(fabs(zoom_rate(b.zoom) - 480000) < 1e-6);
	zoom_aim(b.zoom, 0, 300000);
	bench_close(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(passes_the_channel_and_nothing_else),
		cmocka_unit_test(a_wide_zoom_has_one_filter),
		cmocka_unit_test(blocks_leave_no_seam),
		cmocka_unit_test(noise_is_as_wide_as_it_says),
		cmocka_unit_test(only_the_part_asked_for),
		cmocka_unit_test(frequency_of_a_line),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
