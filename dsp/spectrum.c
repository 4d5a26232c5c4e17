#include "dsp/spectrum.h"

#include "dsp/hot.h"

#include <assert.h>
#include <complex.h>
#include <fftw3.h>
#include <stdint.h>
#include <stdlib.h>

struct spectrum {
	int            bins, hop;
	float         *window;          /* as filled                                  */
	float         *scaled;          /* each point twice, times the power's scale  */
	float complex *in, *out;        /* apart: a sixth faster than in place        */
	fftwf_plan     plan;
};

struct spectrum *spectrum_create(int bins, int hop, enum window_shape shape, double beta)
{
	assert(bins > 0 && bins % 2 == 0 && hop > 0 && hop <= bins);
	struct spectrum *s = calloc(1, sizeof *s);
	if (!s)
		return NULL;
	s->bins = bins;
	s->hop = hop;
	s->window = fftwf_alloc_real((size_t)bins);
	s->scaled = fftwf_alloc_real(2 * (size_t)bins);
	s->in = fftwf_alloc_complex((size_t)bins);
	s->out = fftwf_alloc_complex((size_t)bins);
	if (!s->window || !s->scaled || !s->in || !s->out)
		goto fail;
	window_fill(s->window, bins, shape, beta);
	double squares = 0;
	for (int i = 0; i < bins; i++)
		squares += (double)s->window[i] * s->window[i];
	for (int i = 0; i < 2 * bins; i++)
		s->scaled[i] = (float)(s->window[i / 2] / __builtin_sqrt(squares * bins));
	/* A plan by estimate is the same on every run, so a night replays to the bit. */
	s->plan = fftwf_plan_dft_1d(bins, s->in, s->out, FFTW_FORWARD, FFTW_ESTIMATE);
	if (!s->plan)
		goto fail;
	return s;
fail:
	spectrum_destroy(s);
	return NULL;
}

void spectrum_destroy(struct spectrum *s)
{
	if (!s)
		return;
	if (s->plan)
		fftwf_destroy_plan(s->plan);
	fftwf_free(s->in);
	fftwf_free(s->out);
	fftwf_free(s->scaled);
	fftwf_free(s->window);
	free(s);
}

int spectrum_bins(const struct spectrum *s)
{
	return s->bins;
}

int spectrum_hop(const struct spectrum *s)
{
	return s->hop;
}

const float *spectrum_window(const struct spectrum *s)
{
	return s->window;
}

/* For each format: the value of zero and of full scale. */
static const struct {
	float zero, full;
} scales[SAMPLE_FORMATS] = {
	[SAMPLE_CU8] = { 127.5f, 127.5f }, [SAMPLE_CI8] = { 0, 128 },
	[SAMPLE_CI16] = { 0, 32768 },      [SAMPLE_CF32] = { 0, 1 },
};

/* out = (in - mean) * by, or the same weighted point by point. */
#define LOAD(name, type)                                                                     \
	HOT static void name(const type *restrict in, size_t n, const float *restrict w,     \
			     float re, float im, float by, float *restrict out)              \
	{                                                                                    \
		if (!w) {                                                                    \
			for (size_t i = 0; i < n; i++) {                                     \
				out[2 * i] = ((float)in[2 * i] - re) * by;                   \
				out[2 * i + 1] = ((float)in[2 * i + 1] - im) * by;           \
			}                                                                    \
			return;                                                              \
		}                                                                            \
		for (size_t i = 0; i < n; i++) {                                             \
			out[2 * i] = ((float)in[2 * i] - re) * (w[2 * i] * by);              \
			out[2 * i + 1] = ((float)in[2 * i + 1] - im) * (w[2 * i + 1] * by);  \
		}                                                                            \
	}
LOAD(load_u8, uint8_t)
LOAD(load_i8, int8_t)
LOAD(load_i16, int16_t)
LOAD(load_f32, float)

static void load(const struct block *b, size_t at, size_t n, const float *weight,
		 float complex mean, float *out)
{
	float zero = scales[b->format].zero, full = scales[b->format].full;
	float re = zero + crealf(mean) * full, im = zero + cimagf(mean) * full;
	const void *p = (const char *)b->iq + at * sample_bytes(b->format);

	switch (b->format) {
	case SAMPLE_CU8:
		load_u8(p, n, weight, re, im, 1 / full, out);
		break;
	case SAMPLE_CI8:
		load_i8(p, n, weight, re, im, 1 / full, out);
		break;
	case SAMPLE_CI16:
		load_i16(p, n, weight, re, im, 1 / full, out);
		break;
	default:
		load_f32(p, n, weight, re, im, 1 / full, out);
	}
}

void block_floats(const struct block *b, size_t from, size_t n, float complex mean, float *out)
{
	assert(from + n <= b->n);
	load(b, from, n, NULL, mean, out);
}

#define CHUNK 4096              /* of these the sums of 16-bit samples fit 32 bits */

/* Sums of the I and the Q of up to CHUNK pairs. */
#define SUMS(name, type, total)                                                              \
	HOT static void name(const type *restrict p, size_t n, total *restrict out)          \
	{                                                                                    \
		total re = 0, im = 0;                                                        \
		for (size_t i = 0; i < n; i++) {                                             \
			re += p[2 * i];                                                      \
			im += p[2 * i + 1];                                                  \
		}                                                                            \
		out[0] = re;                                                                 \
		out[1] = im;                                                                 \
	}
SUMS(sums_u8, uint8_t, int32_t)
SUMS(sums_i8, int8_t, int32_t)
SUMS(sums_i16, int16_t, int32_t)
SUMS(sums_f32, float, double)

#define MEAN(name, sums, type, total)                                                        \
	static float complex name(const type *p, size_t n)                                   \
	{                                                                                    \
		double re = 0, im = 0;                                                       \
		total sum[2];                                                                \
		for (size_t i = 0; i < n; i += CHUNK) {                                      \
			sums(p + 2 * i, n - i < CHUNK ? n - i : CHUNK, sum);                 \
			re += sum[0];                                                        \
			im += sum[1];                                                        \
		}                                                                            \
		return (float)(re / (double)n) + I * (float)(im / (double)n);                \
	}
MEAN(mean_u8, sums_u8, uint8_t, int32_t)
MEAN(mean_i8, sums_i8, int8_t, int32_t)
MEAN(mean_i16, sums_i16, int16_t, int32_t)
MEAN(mean_f32, sums_f32, float, double)

float complex block_mean(const struct block *b)
{
	float zero = scales[b->format].zero, full = scales[b->format].full;
	float complex m;

	if (b->n == 0)
		return 0;
	switch (b->format) {
	case SAMPLE_CU8:
		m = mean_u8(b->iq, b->n);
		break;
	case SAMPLE_CI8:
		m = mean_i8(b->iq, b->n);
		break;
	case SAMPLE_CI16:
		m = mean_i16(b->iq, b->n);
		break;
	default:
		m = mean_f32(b->iq, b->n);
	}
	return ((crealf(m) - zero) + I * (cimagf(m) - zero)) / full;
}

HOT static void add_power(const float *restrict x, int n, float *restrict sum)
{
	for (int i = 0; i < n; i++)
		sum[i] += x[2 * i] * x[2 * i] + x[2 * i + 1] * x[2 * i + 1];
}

void spectrum_add(struct spectrum *s, const struct block *b, size_t at, int transforms,
		  float complex mean, float *sum)
{
	int half = s->bins / 2;

	assert(at + (size_t)s->hop * (size_t)(transforms - 1) + (size_t)s->bins <= b->n);
	for (int t = 0; t < transforms; t++, at += (size_t)s->hop) {
		load(b, at, (size_t)s->bins, s->scaled, mean, (float *)s->in);
		fftwf_execute(s->plan);
		/* The transform's upper half holds the negative offsets. */
		add_power((const float *)(s->out + half), half, sum);
		add_power((const float *)s->out, half, sum + half);
	}
}
