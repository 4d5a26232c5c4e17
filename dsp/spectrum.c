#include "dsp/spectrum.h"

#include "dsp/hot.h"

#include <assert.h>
#include <complex.h>
#include <fftw3.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#define LINE 64                 /* bytes: what the widest registers load at once */

struct spectrum {
	int            bins, hop;
	double         squares;         /* of the window's points, added up     */
	float         *window;          /* as filled                            */
	float         *scaled;          /* ... for powers of full scale 1 from  */
	int            format;          /* samples of this format; -1: none yet */
	float complex *in, *out;        /* apart: a sixth faster than in place  */
	fftwf_plan     plan;
};

/* The best plans of 1920 and 3840 points that FFTW found when it was let search for
 * seconds (FFTW_PATIENT): they take two thirds of the time of a plan by estimate. As
 * text they cost nothing to make, and are the same on every run, so that a night
 * replays to the bit. They fit FFTW 3.3.10 as Debian 12 builds it, on processors with
 * AVX, as the numbers in the first line tell: any other FFTW declines them, and plans
 * by estimate until told better. `bench_chain wisdom BINS` makes such text. */
static const char known_plans[] =
	"(fftw-3.3.10 fftwf_wisdom #x9e7d4dee #xdb14fed1 #x34bf76a4 #xeb6e8fdf"
	" (fftwf_dft_vrank_geq1_register 0 #x11048 #x11048 #x0 #x7c7f8f6a #x17c7c4e8 #xff8cc19d #xc41591c1)"
	" (fftwf_codelet_n2fv_12_avx 0 #x11048 #x11048 #x0 #xcf42e93c #x94a10d29 #xc33cd544 #xaa9ab0d2)"
	" (fftwf_codelet_t2fv_8_avx 0 #x11048 #x11048 #x0 #x4c369812 #x5539c13d #x354e27e1 #x01c1554f)"
	" (fftwf_codelet_t2fv_20_avx 0 #x11048 #x11048 #x0 #x3bcae30f #x7d02bc18 #x1cc7910c #x47b861b7)"
	" (fftwf_codelet_t1fv_16_avx 0 #x11048 #x11048 #x0 #x8d4654a3 #x51eca0dd #xd6afbec3 #x28fbe64d)"
	" (fftwf_dft_vrank_geq1_register 0 #x11048 #x11048 #x0 #xd2b028e6 #xee3c04f3 #x3429d6b3 #xd2dc3aca)"
	" (fftwf_codelet_n2fv_12_avx 0 #x11048 #x11048 #x0 #x0678ea66 #x4b63a28a #x74baa4b0 #x4c3bf399)"
	" (fftwf_codelet_t2fv_20_avx 0 #x11048 #x11048 #x0 #xa1e32c79 #x9a2f90e0 #x150e183c #x4b185c57))";

/* n items on a line's start. NULL: no memory. */
static void *on_line(size_t n, size_t size)
{
	return aligned_alloc(LINE, (n * size + LINE - 1) / LINE * LINE);
}

/* FFTW keeps one memory of plans for the whole program: what it was told is there. */
static fftwf_plan plan_for(int bins, float complex *in, float complex *out, unsigned effort)
{
	fftwf_import_wisdom_from_string(known_plans);
	return fftwf_plan_dft_1d(bins, in, out, FFTW_FORWARD, effort);
}

/* Whether a plan of such an effort could be had. Its buffers are written to. */
static bool try_plan(int bins, unsigned effort)
{
	float complex *in = on_line((size_t)bins, sizeof *in);
	float complex *out = on_line((size_t)bins, sizeof *out);
	fftwf_plan p = in && out ? plan_for(bins, in, out, effort) : NULL;

	if (p)
		fftwf_destroy_plan(p);
	free(in);
	free(out);
	return p != NULL;
}

bool spectrum_plan_known(int bins)
{
	return try_plan(bins, FFTW_PATIENT | FFTW_WISDOM_ONLY);
}

void spectrum_plan_search(int bins, double seconds)
{
	fftwf_set_timelimit(seconds);
	try_plan(bins, FFTW_PATIENT);
	fftwf_set_timelimit(FFTW_NO_TIMELIMIT);
}

char *spectrum_plans_text(void)
{
	return fftwf_export_wisdom_to_string();
}

bool spectrum_plans_learn(const char *text)
{
	return fftwf_import_wisdom_from_string(text) != 0;
}

void spectrum_plans_forget(void)
{
	fftwf_forget_wisdom();
}

struct spectrum *spectrum_create(int bins, int hop, enum window_shape shape, double beta)
{
	assert(bins > 0 && bins % 2 == 0 && hop > 0 && hop <= bins);
	struct spectrum *s = calloc(1, sizeof *s);
	if (!s)
		return NULL;
	s->bins = bins;
	s->hop = hop;
	s->format = -1;
	s->window = on_line((size_t)bins, sizeof *s->window);
	s->scaled = on_line((size_t)bins, sizeof *s->scaled);
	s->in = on_line((size_t)bins, sizeof *s->in);
	s->out = on_line((size_t)bins, sizeof *s->out);
	if (!s->window || !s->scaled || !s->in || !s->out)
		goto fail;
	window_fill(s->window, bins, shape, beta);
	for (int i = 0; i < bins; i++)
		s->squares += (double)s->window[i] * s->window[i];
	s->plan = plan_for(bins, s->in, s->out, FFTW_ESTIMATE);
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
	free(s->in);
	free(s->out);
	free(s->scaled);
	free(s->window);
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

/* out = (in - mean) * w, in the format's own steps; without w[n] times by. */
#define LOAD(name, type)                                                                     \
	HOT static void name(const type *restrict in, size_t n, const float *restrict w,     \
			     float re, float im, float by, float *restrict out)              \
	{                                                                                    \
		for (size_t i = 0; w && i < n; i++) {                                        \
			out[2 * i] = ((float)in[2 * i] - re) * w[i];                         \
			out[2 * i + 1] = ((float)in[2 * i + 1] - im) * w[i];                 \
		}                                                                            \
		for (size_t i = 0; !w && i < n; i++) {                                       \
			out[2 * i] = ((float)in[2 * i] - re) * by;                           \
			out[2 * i + 1] = ((float)in[2 * i + 1] - im) * by;                   \
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

#define CHUNK 4096              /* pairs of which a lane's share fits ...            */
#define LANES 64                /* ... numbers twice as wide: 128 samples each      */

/* Sums of the I and the Q of n pairs. Lanes that add for themselves are what a
 * vectoriser can use. */
#define SUMS(name, type, wider)                                                              \
	HOT static void name(const type *restrict p, size_t n, double *restrict sum)         \
	{                                                                                    \
		for (size_t from = 0; from < 2 * n; from += 2 * CHUNK) {                     \
			size_t to = from + 2 * CHUNK < 2 * n ? from + 2 * CHUNK : 2 * n;     \
			wider lane[LANES] = { 0 };                                           \
			size_t i = from;                                                     \
			for (; i + LANES <= to; i += LANES)                                  \
				for (int j = 0; j < LANES; j++)                              \
					lane[j] += p[i + j];                                 \
			for (; i < to; i++)                                                  \
				sum[i % 2] += p[i];                                          \
			for (int j = 0; j < LANES; j++)                                      \
				sum[j % 2] += lane[j];                                       \
		}                                                                            \
	}
SUMS(sums_u8, uint8_t, uint16_t)
SUMS(sums_i8, int8_t, int16_t)
SUMS(sums_i16, int16_t, int32_t)
SUMS(sums_f32, float, double)

float complex block_mean(const struct block *b)
{
	double zero = scales[b->format].zero, by = 1 / (scales[b->format].full * (double)b->n);
	double sum[2] = { 0 };

	if (b->n == 0)
		return 0;
	switch (b->format) {
	case SAMPLE_CU8:
		sums_u8(b->iq, b->n, sum);
		break;
	case SAMPLE_CI8:
		sums_i8(b->iq, b->n, sum);
		break;
	case SAMPLE_CI16:
		sums_i16(b->iq, b->n, sum);
		break;
	default:
		sums_f32(b->iq, b->n, sum);
	}
	zero *= (double)b->n;
	return (float)((sum[0] - zero) * by) + I * (float)((sum[1] - zero) * by);
}

HOT static void add_power(const float *restrict x, int n, float *restrict sum)
{
	for (int i = 0; i < n; i++)
		sum[i] += x[2 * i] * x[2 * i] + x[2 * i + 1] * x[2 * i + 1];
}

/* Samples are weighed in their own steps: full scale is taken care of here, once. */
static void scale_for(struct spectrum *s, enum sample_format format)
{
	double by = 1 / (sqrt(s->squares * s->bins) * scales[format].full);

	for (int i = 0; i < s->bins; i++)
		s->scaled[i] = (float)(s->window[i] * by);
	s->format = (int)format;
}

void spectrum_add(struct spectrum *s, const struct block *b, size_t at, int transforms,
		  float complex mean, float *sum)
{
	int half = s->bins / 2;

	assert(at + (size_t)s->hop * (size_t)(transforms - 1) + (size_t)s->bins <= b->n);
	if (s->format != (int)b->format)
		scale_for(s, b->format);
	for (int t = 0; t < transforms; t++, at += (size_t)s->hop) {
		load(b, at, (size_t)s->bins, s->scaled, mean, (float *)s->in);
		fftwf_execute(s->plan);
		/* The transform's upper half holds the negative offsets. */
		add_power((const float *)(s->out + half), half, sum);
		add_power((const float *)s->out, half, sum + half);
	}
}
