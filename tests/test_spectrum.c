#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/look.h"
#include "dsp/spectrum.h"
#include "tests/noise.h"

#define BINS 480
#define RATE 2400000
#define N    48000

static struct block block_of(const void *iq, enum sample_format format)
{
	return (struct block){ .iq = iq, .format = format, .n = N, .rate_hz = RATE };
}

/* Mean power per bin over all transforms of a block. */
static void powers_by(struct spectrum *s, const struct block *b, float _Complex mean, double *out)
{
	int transforms = (int)((b->n - BINS) / (BINS / 2)) + 1;
	float sum[BINS] = { 0 };

	assert_non_null(s);
	spectrum_add(s, b, 0, transforms, mean, sum);
	for (int k = 0; k < BINS; k++)
		out[k] = (double)sum[k] / transforms;
}

static void powers(const struct block *b, float _Complex mean, double *out)
{
	struct spectrum *s = spectrum_create(BINS, BINS / 2, WINDOW_KAISER, WINDOW_BETA);

	powers_by(s, b, mean, out);
	spectrum_destroy(s);
}

static double total(const double *p)
{
	double t = 0;
	for (int k = 0; k < BINS; k++)
		t += p[k];
	return t;
}

static float complex *air(void)
{
	float complex *iq = calloc(N, sizeof *iq);
	assert_non_null(iq);
	return iq;
}

/* 48000 samples tell a mean power to 1/sqrt(48000) = 0.46 %, the overlapped
 * transforms to a little less. */
static void white_noise_adds_up(void **state)
{
	static const double want[] = { 1e-6, 0.01, 1 };
	(void)state;

	for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
		float complex *iq = air();
		double p[BINS];
		struct block b = block_of(iq, SAMPLE_CF32);
		noise_add(&(struct noise){ 7 + i }, iq, N, want[i]);
		powers(&b, 0, p);
		if (!(fabs(total(p) / want[i] - 1) <= 4 * 0.005))
			fail_msg("noise of %g reads %g (seed %zu)", want[i], total(p), 7 + i);
		for (int k = 0; k < BINS; k++)
			if (!(fabs(p[k] * BINS / want[i] - 1) <= 5.0 / sqrt(190)))
				fail_msg("bin %d of white noise reads %g of the mean (seed %zu)", k,
					 p[k] * BINS / want[i], 7 + i);
		free(iq);
	}
}

static const struct {
	const char *why;
	double      hz;
	int         peak;
} carriers[] = {
	{ "the centre is bin bins/2",            0,        240 },
	{ "up is up",                            600000,   360 },
	{ "down is down",                        -600000,  120 },
	{ "half a bin off falls to either side", 602499,   360 },
	{ "the lowest bin",                      -1200000, 0 },
	{ "the highest bin",                     1195000,  479 },
};

static void a_carrier_has_its_place_and_power(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof carriers / sizeof carriers[0]; i++) {
		float complex *iq = air();
		double p[BINS];
		int peak = 0;
		struct block b = block_of(iq, SAMPLE_CF32);
		tone_add(iq, N, 0.25, carriers[i].hz, RATE, 0.3);
		powers(&b, 0, p);
		for (int k = 0; k < BINS; k++)
			peak = p[k] > p[peak] ? k : peak;
		if (peak != carriers[i].peak)
			fail_msg("%s: bin %d, want %d", carriers[i].why, peak, carriers[i].peak);
		if (!(fabs(total(p) / 0.25 - 1) <= 1e-3))
			fail_msg("%s: power %g, want 0.25", carriers[i].why, total(p));
		free(iq);
	}
}

/* A carrier amid a bin's middle: its peak is 1/(noise bandwidth) of its power. */
static void a_carrier_peaks_by_the_noise_bandwidth(void **state)
{
	float complex *iq = air();
	float w[BINS];
	double p[BINS];
	struct block b = block_of(iq, SAMPLE_CF32);
	(void)state;

	tone_add(iq, N, 1, 100 * 5000.0, RATE, 0);
	powers(&b, 0, p);
	window_fill(w, BINS, WINDOW_KAISER, WINDOW_BETA);
	assert_true(fabs(p[340] * window_noise_bins(w, BINS) - 1) < 1e-4);
	free(iq);
}

/* A look is the mean of its transforms, slice by slice and bin by bin, the lowest among them. */
static void a_look_has_their_mean(void **state)
{
	struct channeliser *c = channeliser_create(RATE, BINS, N);
	float complex *iq = air();
	struct block b = block_of(iq, SAMPLE_CF32);
	(void)state;

	assert_non_null(c);
	tone_add(iq, N, 0.25, -1200000, RATE, 0.3);
	tone_add(iq, N, 0.09, 600000, RATE, 1);
	const struct look *l = channeliser_look(c, &b);
	assert_int_equal(l->slices, 12);
	assert_true(fabs(l->total[BINS] / 0.34 - 1) < 1e-3);
	for (int s = 0; s < l->slices; s++) {
		double low = look_slice_power(l, s, 0, 10) + look_slice_power(l, s, BINS - 10, BINS);
		double high = look_slice_power(l, s, 350, 371);
		if (!(fabs(low / 0.25 - 1) < 1e-3) || !(fabs(high / 0.09 - 1) < 1e-3))
			fail_msg("slice %d has %g and %g", s, low, high);
	}
	channeliser_destroy(c);
	free(iq);
}

/* A converter's rounding is even between half a step down and up, on either rail: a twelfth of a step squared each. */
static void steps_are_noise(void **state)
{
	static const double full_scale[] = { [SAMPLE_CU8] = 127.5, [SAMPLE_CI8] = 128, [SAMPLE_CI16] = 32768 };
	struct channeliser *c = channeliser_create(RATE, BINS, N);
	float complex *iq = air();
	(void)state;

	assert_non_null(c);
	for (enum sample_format f = SAMPLE_CU8; f <= SAMPLE_CI16; f++) {
		struct block b = block_of(iq, f);
		double want = 2 / (12 * full_scale[f] * full_scale[f]);
		assert_true(fabs(channeliser_look(c, &b)->quantum / want - 1) < 1e-9);
	}
	struct block b = block_of(iq, SAMPLE_CF32);
	assert_true(channeliser_look(c, &b)->quantum < 1e-15);          /* floats have none to speak of */
	channeliser_destroy(c);
	free(iq);
}

static void put(void *out, size_t i, enum sample_format f, float v)
{
	switch (f) {
	case SAMPLE_CU8:
		((uint8_t *)out)[i] = (uint8_t)lrintf(v * 127.5f + 127.5f);
		break;
	case SAMPLE_CI8:
		((int8_t *)out)[i] = (int8_t)lrintf(v * 128);
		break;
	case SAMPLE_CI16:
		((int16_t *)out)[i] = (int16_t)lrintf(v * 32768);
		break;
	default:
		((float *)out)[i] = v;
	}
}

/* Bytes add their own rounding: 2/12 of a step squared, spread over all bins,
 * -50 dB full scale. Against signals of -20 dB that is 0.1 % of the power. One
 * spectrum takes them in turn. */
static void formats_agree(void **state)
{
	static const struct {
		const char *why;
		enum sample_format format;
		double share;           /* of the power that rounding may add or take */
	} rows[] = {
		{ "unsigned bytes", SAMPLE_CU8,  3e-3 },
		{ "signed bytes",   SAMPLE_CI8,  3e-3 },
		{ "16 bit",         SAMPLE_CI16, 1e-5 },
		{ "float",          SAMPLE_CF32, 1e-9 },
	};
	float complex *iq = air();
	double want[BINS], got[BINS];
	void *raw = malloc(N * 8);
	struct block b = block_of(iq, SAMPLE_CF32);
	struct spectrum *s = spectrum_create(BINS, BINS / 2, WINDOW_KAISER, WINDOW_BETA);
	(void)state;

	noise_add(&(struct noise){ 3 }, iq, N, 0.01);
	tone_add(iq, N, 0.04, 312500, RATE, 1);
	for (size_t i = 0; i < N; i++)
		iq[i] += 0.02f - 0.03f * I;
	powers(&b, block_mean(&b), want);
	for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
		for (size_t i = 0; i < N; i++) {
			put(raw, 2 * i, rows[r].format, crealf(iq[i]));
			put(raw, 2 * i + 1, rows[r].format, cimagf(iq[i]));
		}
		struct block c = block_of(raw, rows[r].format);
		float complex m = block_mean(&c), off = m - (0.02f - 0.03f * I);
		if (cabsf(off - (block_mean(&b) - (0.02f - 0.03f * I))) > 1e-4f)
			fail_msg("%s: mean %g %+gj", rows[r].why, (double)crealf(m), (double)cimagf(m));
		powers_by(s, &c, m, got);
		if (!(fabs(total(got) / total(want) - 1) <= rows[r].share))
			fail_msg("%s: power %.6g, want %.6g", rows[r].why, total(got), total(want));
		for (int k = 0; k < BINS; k++)
			if (!(fabs(got[k] - want[k]) <= 0.05 * want[k] + rows[r].share * total(want)))
				fail_msg("%s: bin %d is %g, want %g", rows[r].why, k, got[k], want[k]);
	}
	spectrum_destroy(s);
	free(raw);
	free(iq);
}

/* What is loaded is (sample - mean), from wherever it is asked. */
static void floats_are_loaded(void **state)
{
	static const uint8_t bytes[] = { 0, 255, 128, 127, 255, 0 };
	struct block b = { .iq = bytes, .format = SAMPLE_CU8, .n = 3 };
	float out[4];
	(void)state;

	block_floats(&b, 1, 2, 0.5f + 0.25f * I, out);
	assert_true(fabs(out[0] - (0.5 / 127.5 - 0.5)) < 1e-6);
	assert_true(fabs(out[1] - (-0.5 / 127.5 - 0.25)) < 1e-6);
	assert_true(fabs(out[2] - 0.5) < 1e-6);
	assert_true(fabs(out[3] + 1.25) < 1e-6);
	assert_true(fabs(crealf(block_mean(&b)) - (0 + 128 + 255 - 382.5) / 3 / 127.5) < 1e-6);
	assert_true(block_mean(&(struct block){ .iq = bytes }) == 0);
}

/* Samples at the end of their range, for lengths that vectors don't divide: each sum
 * must hold them, and be exact. */
static void means_are_exact(void **state)
{
	static const size_t lengths[] = { 1, 31, 32, 33, 4095, 4096, 4097, 48000 };
	static const struct {
		const char        *why;
		enum sample_format format;
		float              i, q;
	} rows[] = {
		{ "unsigned bytes", SAMPLE_CU8,  1,  -1 },
		{ "signed bytes",   SAMPLE_CI8,  -1, 127.0f / 128 },
		{ "16 bit",         SAMPLE_CI16, -1, 32767.0f / 32768 },
		{ "float",          SAMPLE_CF32, 1,  -1 },
	};
	char *raw = malloc(N * 8);
	(void)state;

	for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++)
		for (size_t l = 0; l < sizeof lengths / sizeof lengths[0]; l++) {
			struct block b = block_of(raw, rows[r].format);
			b.n = lengths[l];
			for (size_t i = 0; i < b.n; i++) {
				put(raw, 2 * i, b.format, rows[r].i);
				put(raw, 2 * i + 1, b.format, rows[r].q);
			}
			float complex off = block_mean(&b) - (rows[r].i + I * rows[r].q);
			if (cabsf(off) > 1e-6f)
				fail_msg("%s: the mean of %zu equal samples is %g off", rows[r].why, b.n,
					 (double)cabsf(off));
			double clipped = rows[r].format == SAMPLE_CF32 ? 0 : 1;
			if (!(fabs(block_clipped(&b) - clipped) <= 0))
				fail_msg("%s: of %zu clipped samples a share of %g is seen", rows[r].why, b.n,
					 block_clipped(&b));
		}
	free(raw);
}

/* One clipped sample, also the very last, is one of all. */
static void one_clipped_sample_counts(void **state)
{
	static const size_t at[] = { 0, 1, 8191, 8192, 50001, 2 * N - 1 };
	uint8_t *bytes = malloc(2 * N);
	struct block b = block_of(bytes, SAMPLE_CU8);
	(void)state;

	for (size_t k = 0; k < sizeof at / sizeof at[0]; k++)
		for (int value = 0; value < 256; value += 255) {
			memset(bytes, 254, 2 * N);
			bytes[at[k]] = (uint8_t)value;
			if (!(fabs(block_clipped(&b) * N - 1) <= 1e-9))
				fail_msg("byte %zu of value %d: %g clipped samples", at[k], value,
					 block_clipped(&b) * N);
		}
	free(bytes);
}

/* Taking transforms in two goes or in one is the same. */
static void goes_on_where_it_stopped(void **state)
{
	struct spectrum *s = spectrum_create(BINS, 160, WINDOW_HANN, 0);
	float complex *iq = air();
	float once[BINS] = { 0 }, twice[BINS] = { 0 };
	struct block b = block_of(iq, SAMPLE_CF32);
	(void)state;

	assert_int_equal(spectrum_bins(s), BINS);
	assert_int_equal(spectrum_hop(s), 160);
	noise_add(&(struct noise){ 5 }, iq, N, 1);
	spectrum_add(s, &b, 0, 20, 0, once);
	spectrum_add(s, &b, 0, 7, 0, twice);
	spectrum_add(s, &b, 7 * 160, 13, 0, twice);
	assert_memory_equal(once, twice, sizeof once);
	spectrum_destroy(s);
	spectrum_destroy(NULL);
	free(iq);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(white_noise_adds_up),
		cmocka_unit_test(a_carrier_has_its_place_and_power),
		cmocka_unit_test(a_carrier_peaks_by_the_noise_bandwidth),
		cmocka_unit_test(a_look_has_their_mean),
		cmocka_unit_test(steps_are_noise),
		cmocka_unit_test(formats_agree),
		cmocka_unit_test(floats_are_loaded),
		cmocka_unit_test(means_are_exact),
		cmocka_unit_test(one_clipped_sample_counts),
		cmocka_unit_test(goes_on_where_it_stopped),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
