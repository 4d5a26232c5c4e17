#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "dsp/look.h"
#include "tests/noise.h"

/* Power between two positions, bin by bin. */
static double sum_directly(const double *bin, int bins, double from, double to)
{
	double p = 0;
	for (int k = 0; k < bins; k++) {
		double part = fmin(k + 1, to) - fmax(k, from);
		p += part > 0 ? part * bin[k] : 0;
	}
	return p;
}

static void added_up_as_directly(void **state)
{
	enum { BINS = 96 };
	(void)state;

	for (uint64_t seed = 1; seed <= 2000; seed++) {
		struct noise r = { seed };
		double bin[BINS], row[BINS + 1] = { 0 };
		float slices[2 * BINS] = { 0 };
		struct look l = { .bins = BINS, .slices = 2, .slice = slices };
		for (int k = 0; k < BINS; k++) {
			slices[BINS + k] = (float)pow(10, -6 * noise_uniform(&r));
			bin[k] = (double)slices[BINS + k];
			row[k + 1] = row[k] + bin[k];
		}
		for (int i = 0; i < 20; i++) {
			double from = noise_uniform(&r) * (BINS + 20) - 10;
			double to = from + noise_uniform(&r) * (i % 2 ? 2 : BINS);
			if (i % 5 == 0)
				from = floor(from);
			double got = look_power(row, BINS, from, to);
			double slice = look_slice_power(&l, 1, from, to);
			double want = sum_directly(bin, BINS, from, to);
			if (!(fabs(got - want) <= 1e-12 * row[BINS]) ||
			    !(fabs(slice - want) <= 1e-12 * row[BINS]))
				fail_msg("seed %d, %.3f to %.3f: %.12g and %.12g in a slice, want %.12g",
					 (int)seed, from, to, got, slice, want);
		}
	}
}

/* The plain way: mix to zero, filter as wide as is measured, square, average. The
 * filter is a windowed sinc of sixty zero crossings, or of a sixth of the samples. */
static double plain(const float complex *iq, size_t n, double rate, double offset_hz,
		    double wide_hz)
{
	size_t most = (size_t)(60 * rate / wide_hz);
	size_t taps = (n / 6 < most ? n / 6 : most) | 1, by = (size_t)(rate / (8 * wide_hz)) + 1, m = 0;
	double *tap = malloc(taps * sizeof *tap), sum = 0, power = 0;

	for (size_t i = 0; i < taps; i++) {
		double t = (double)i - 0.5 * (double)(taps - 1), x = M_PI * wide_hz / rate * t;
		double w = 2 * M_PI * ((double)i + 0.5) / (double)taps;
		tap[i] = (x == 0 ? 1 : sin(x) / x) * (0.42 - 0.5 * cos(w) + 0.08 * cos(2 * w));
		sum += tap[i];
	}
	double complex by_one = cexp(-2 * I * M_PI * offset_hz / rate);
	for (size_t at = 0; at + taps <= n; at += by, m++) {
		double complex y = 0, turn = 1;
		for (size_t i = 0; i < taps; i++, turn *= by_one)
			y += tap[i] * turn * iq[at + i];
		power += creal(y * conj(y)) / (sum * sum);
	}
	free(tap);
	return power / (double)m;
}

/* FM by two tones: constant power, so that no end of the samples counts more. Its
 * width is close to 2 (deviation + 1.5 * the upper tone). */
static void add_fm(float complex *iq, size_t n, double rate, double hz, double power, double width)
{
	double deviation = 0.25 * width, tone = 0.1 * width, phase = 0;

	for (size_t i = 0; i < n; i++) {
		double t = (double)i / rate;
		double f = 0.6 * sin(2 * M_PI * tone * t) + 0.4 * sin(2 * M_PI * 0.617 * tone * t + 1);
		phase += 2 * M_PI * fmod((hz + deviation * f) / rate, 1);
		iq[i] += (float complex)(sqrt(power) * cexp(I * phase));
	}
}

/* One raster each: a signal in the channel, at an odd offset in it, and in the
 * next channel. Leakage is bounded by this project's simulations of the usual
 * services (the fine grid's figures for 5 and 6.25 kHz), and a decibel for the
 * difference between those and this FM. */
static const struct {
	const char *why;
	int32_t     rate_hz;
	int64_t     step_thirds;
	int32_t     width_hz;           /* of the band's usual emission            */
	double      leak_db;            /* into the next channel; 0: not separable */
} rasters[] = {
	{ "25 kHz",             2400000, 75000,  16000, -75 },
	{ "12.5 kHz",           2400000, 37500,  11000, -67 },
	{ "6.25 kHz",           2400000, 18750,  4000,  -56 },
	{ "25/3 kHz",           2400000, 25000,  6000,  -67 },
	{ "5 kHz",              2400000, 15000,  3000,  -60 },
	{ "5 kHz, wide FM",     2400000, 15000,  11000, 0 },
	{ "2.5 kHz, wide FM",   2400000, 7500,   11000, 0 },
	{ "7.5 kHz",            2400000, 22500,  6000,  -62 },
	{ "15 kHz",             2400000, 45000,  11000, -72 },
	{ "10 kHz",             2400000, 30000,  8000,  -55 },
	{ "20 kHz",             2400000, 60000,  11000, -74 },
	{ "100 kHz, broadcast", 2400000, 300000, 180000, 0 },
	{ "200 kHz, broadcast", 2400000, 600000, 180000, -70 },
	{ "12.5 kHz at an odd rate", 2048000, 37500, 11000, -67 },
	{ "25/3 kHz at an odd rate", 2048000, 25000, 6000,  -67 },
	{ "12.5 kHz at 1 MS/s",      1000000, 37500, 11000, -67 },
	{ "25 kHz at 280 kS/s",      280000,  75000, 16000, -75 },
	{ "5 kHz at 280 kS/s",       280000,  15000, 3000,  -60 },
	{ "12.5 kHz at 48 kS/s",     48000,   37500, 11000, -67 },
	{ "25/3 kHz at 48 kS/s",     48000,   25000, 6000,  -67 },
};

struct measure {
	double step_hz, wide_hz, at_hz;
	struct channeliser *channeliser;
	float complex *iq;
	size_t n;
};

static struct measure measure_for(size_t row)
{
	struct band b = { .raster.step = { rasters[row].step_thirds },
			  .width_hz = rasters[row].width_hz };
	struct measure m = { .step_hz = freq_to_hz(b.raster.step), .wide_hz = band_measured_hz(&b) };
	int32_t rate = rasters[row].rate_hz;

	/* Half a channel from the centre, as channels lie about a tuner, and clear of it. */
	m.at_hz = m.step_hz * (floor(0.12 * rate / m.step_hz) + 0.5);
	m.n = (size_t)(rate * 0.05);
	m.channeliser = channeliser_create(rate, hop_bins(rate, b.raster.step), m.n);
	m.iq = calloc(m.n, sizeof *m.iq);
	assert_non_null(m.channeliser);
	assert_non_null(m.iq);
	return m;
}

static void measure_done(struct measure *m)
{
	channeliser_destroy(m->channeliser);
	free(m->iq);
}

static double ours(const struct measure *m, int32_t rate_hz, double offset_hz)
{
	struct block b = { .iq = m->iq, .format = SAMPLE_CF32, .n = m->n, .rate_hz = rate_hz };
	const struct look *l = channeliser_look(m->channeliser, &b);
	return look_power(l->total, l->bins, look_edge(l, offset_hz - m->wide_hz / 2),
			  look_edge(l, offset_hz + m->wide_hz / 2));
}

/* Signals well inside: 0.2 dB is what the bins at the edges take and give. */
static void channels_as_plain_code(void **state)
{
	static const struct {
		const char *why;
		double      off, width;         /* in measured widths */
	} places[] = {
		{ "in the middle",    0,      0.40 },
		{ "at an odd offset", 0.1137, 0.30 },
		{ "and below",        -0.087, 0.30 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof rasters / sizeof rasters[0]; i++)
		for (size_t k = 0; k < sizeof places / sizeof places[0]; k++) {
			struct measure m = measure_for(i);
			int32_t rate = rasters[i].rate_hz;
			add_fm(m.iq, m.n, rate, m.at_hz + places[k].off * m.wide_hz, 0.01,
			       places[k].width * m.wide_hz);
			double want = plain(m.iq, m.n, rate, m.at_hz, m.wide_hz);
			double off = 10 * log10(ours(&m, rate, m.at_hz) / want);
			if (!(fabs(off) <= 0.2))
				fail_msg("%s, %s: %.3f dB off", rasters[i].why, places[k].why, off);
			measure_done(&m);
		}
}

/* White noise: equal in the mean; the two filters' edges see different noise, so
 * one reading scatters by about 1/sqrt(B T). */
static void noise_as_plain_code(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rasters / sizeof rasters[0]; i++) {
		struct measure m = measure_for(i);
		int32_t rate = rasters[i].rate_hz;
		noise_add(&(struct noise){ 50 + i }, m.iq, m.n, 1);
		double want = plain(m.iq, m.n, rate, m.at_hz, m.wide_hz);
		double got = ours(&m, rate, m.at_hz), part = m.wide_hz / rate;
		double scatter = 4 / sqrt(m.wide_hz * 0.04);
		if (!(fabs(got / part - 1) <= scatter) || !(fabs(got / want - 1) <= scatter))
			fail_msg("%s: noise reads %.4f of its share and %.4f of plain (seed %zu)",
				 rasters[i].why, got / part, got / want, 50 + i);
		measure_done(&m);
	}
}

static void neighbours_stay_out(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rasters / sizeof rasters[0]; i++)
		for (int side = -1; side <= 1 && rasters[i].leak_db < 0; side += 2) {
			struct measure m = measure_for(i);
			int32_t rate = rasters[i].rate_hz;
			add_fm(m.iq, m.n, rate, m.at_hz + side * m.step_hz, 0.25, 0.4 * m.step_hz);
			double leak = 10 * log10(ours(&m, rate, m.at_hz) / 0.25);
			if (leak > rasters[i].leak_db + 1)
				fail_msg("%s: the next channel leaks %.1f dB, at most %.0f",
					 rasters[i].why, leak, rasters[i].leak_db);
			measure_done(&m);
		}
}

/* The tuner's own line must not stand in any channel, nor tear a hole. */
static void the_centre_is_bridged(void **state)
{
	struct measure m = measure_for(1);
	struct block b = { .iq = m.iq, .format = SAMPLE_CF32, .n = m.n, .rate_hz = 2400000 };
	(void)state;

	noise_add(&(struct noise){ 9 }, m.iq, m.n, 0.01);
	tone_add(m.iq, m.n, 0.2, 3, 2400000, 0);        /* not quite zero: no mean removes it */
	const struct look *l = channeliser_look(m.channeliser, &b);
	double c = look_power(l->total, l->bins, look_edge(l, -1875), look_edge(l, 1875));
	double share = 0.01 * 3 / 1920;
	/* Three bins of about 29 degrees, read off four neighbours that the line's
	 * window reaches at -22 dB. */
	if (c < 0.3 * share || c > 0.2 * 0.02)
		fail_msg("three bins at the centre hold %g, noise alone %g", c, share);
	measure_done(&m);
}

static void a_look_is_stamped_and_cut(void **state)
{
	static uint8_t bytes[2 * 48000];
	struct channeliser *c = channeliser_create(2400000, 1920, 48000);
	struct block b = { .iq = bytes, .n = 48000, .rate_hz = 2400000, .centre = FREQ_KHZ(155000),
			   .start_us = 77, .mono_us = 5, .gap = true };
	(void)state;

	struct look *l = channeliser_look(c, &b);
	assert_int_equal(channeliser_samples(c), 48000);
	assert_int_equal(l->centre.thirds, FREQ_KHZ(155000).thirds);
	assert_int_equal(l->start_us, 77);
	assert_int_equal(l->mono_us, 5);
	assert_int_equal(l->span_us, 20000);
	assert_true(l->gap);
	assert_int_equal(l->slices, 12);                /* 20 ms over 1.6 ms */
	assert_int_equal(l->slice_transforms, 4);
	assert_int_equal(l->transforms, 48);            /* of the 49 that fit */
	assert_true(l->clipped == 1);                   /* all bytes are 0 */
	assert_true(l->total[1920] == 0);               /* and so is all but the mean */
	assert_true(fabs(look_edge(l, 0) - 960.5) < 1e-12);
	assert_true(fabs(look_edge(l, -1250) - 959.5) < 1e-12);
	channeliser_destroy(c);
	channeliser_destroy(NULL);
}

/* total is the mean of what is left; time shrinks with it. */
static void spoilt_slices_are_left_out(void **state)
{
	struct measure m = measure_for(1);
	struct block b = { .iq = m.iq, .format = SAMPLE_CF32, .n = m.n, .rate_hz = 2400000 };
	(void)state;

	noise_add(&(struct noise){ 4 }, m.iq, m.n, 1e-4);
	noise_add(&(struct noise){ 5 }, m.iq + m.n / 2, 500, 1);
	struct look *l = channeliser_look(m.channeliser, &b);
	int64_t whole = l->span_us;
	double before = l->total[l->bins];
	int left_out = 0;
	for (int s = 0; s < l->slices; s++)
		left_out += l->spoilt[s] = look_slice_power(l, s, 0, l->bins) > 2e-4;
	look_leave_out(l);
	assert_in_range(left_out, 1, 2);
	assert_true(before > 1e-3);
	assert_true(fabs(l->total[l->bins] / 1e-4 - 1) < 0.02);
	assert_int_equal(l->span_us, whole * (l->slices - left_out) / l->slices);
	measure_done(&m);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(added_up_as_directly),
		cmocka_unit_test(channels_as_plain_code),
		cmocka_unit_test(noise_as_plain_code),
		cmocka_unit_test(neighbours_stay_out),
		cmocka_unit_test(the_centre_is_bridged),
		cmocka_unit_test(a_look_is_stamped_and_cut),
		cmocka_unit_test(spoilt_slices_are_left_out),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
