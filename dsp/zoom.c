#include "dsp/zoom.h"

#include <assert.h>
#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/hot.h"
#include "dsp/lowpass.h"
#include "dsp/spectrum.h"

/* Two filters, one after the other: a short one with complex taps that shifts and comes
 * down to about four times the rate wanted, then a sharp one. */

#define MIDDLE     4            /* rate between the filters, in rates wanted              */
#define LANES      16           /* sums kept apart, for the vectoriser                    */
#define EDGE       0.15         /* transition of the sharp filter, in rates wanted        */

struct reel {
	size_t most, before;
	size_t n;               /* of the latest block                      */
	bool   filled;
	float *iq;              /* [2 (before + most + LANES)]              */
};

struct fir {
	int    taps, padded;    /* padded: floats, a multiple of LANES      */
	float *re, *im;         /* what I Q I Q ... is weighted by for each */
};

struct zoom {
	int32_t        rate_hz;
	int            first_by, second_by;
	double         pass_hz, noise_hz;
	struct fir     first, second;
	float         *low;     /* the second's low-pass, plain             */
	float         *plain;   /* the first's                              */
	double         turn;    /* radians a sample                         */
	double complex at;      /* rotation at the next window's start      */
	int64_t        next;    /* that start, from the block's             */
	bool           fresh;
	float complex *middle;
	size_t         middle_room, held;
	float complex *out;
};

struct reel *reel_create(int32_t rate_hz, size_t n)
{
	struct reel *r = calloc(1, sizeof *r);
	if (!r)
		return NULL;
	r->most = n;
	/* The longest first filter: see first_taps; from there on it reaches back less. */
	r->before = (size_t)rate_hz / 4000 + 64;
	r->iq = calloc(2 * (r->before + n + LANES), sizeof *r->iq);
	if (!r->iq) {
		reel_destroy(r);
		return NULL;
	}
	return r;
}

void reel_destroy(struct reel *r)
{
	if (!r)
		return;
	free(r->iq);
	free(r);
}

void reel_load(struct reel *r, const struct block *b)
{
	if (r->filled)
		memmove(r->iq, r->iq + 2 * r->n, 2 * r->before * sizeof *r->iq);
	r->n = b->n < r->most ? b->n : r->most;
	r->filled = true;
	block_floats(b, 0, r->n, block_mean(b), r->iq + 2 * r->before);
}

size_t reel_samples(const struct reel *r)
{
	return r->n;
}

static bool fir_create(struct fir *f, int most)
{
	size_t room = 2 * (size_t)most + LANES;
	f->re = calloc(room, sizeof *f->re);
	f->im = calloc(room, sizeof *f->im);
	return f->re && f->im;
}

/* Weights that filter and turn by -turn radians a sample in one go. A filter keeps its length:
 * what pads it has been zero since it was made. */
static void fir_set(struct fir *f, const float *tap, int n, double turn)
{
	f->taps = n;
	f->padded = (2 * n + LANES - 1) / LANES * LANES;
	for (int i = 0; i < n; i++) {
		double complex w = tap[i] * cexp(-I * turn * i);
		f->re[2 * i] = f->im[2 * i + 1] = (float)creal(w);
		f->re[2 * i + 1] = (float)-cimag(w);
		f->im[2 * i] = (float)cimag(w);
	}
}

/* LANES floats at once, of whatever the processor has. */
#define LANES_OF_FLOAT float __attribute__((vector_size(LANES * sizeof(float))))

HOT static void fir_run(const float *restrict x, size_t count, size_t step,
			const float *restrict re, const float *restrict im, int n,
			float *restrict out)
{
	for (size_t j = 0; j < count; j++, x += 2 * step) {
		LANES_OF_FLOAT a = { 0 }, b = { 0 }, u, v, w;
		float p = 0, q = 0;
		for (int i = 0; i < n; i += LANES) {
			/* Copied, for they need not be aligned. */
			memcpy(&u, x + i, sizeof u);
			memcpy(&v, re + i, sizeof v);
			memcpy(&w, im + i, sizeof w);
			a += u * v;
			b += u * w;
		}
		for (int k = 0; k < LANES; k++) {
			p += a[k];
			q += b[k];
		}
		out[2 * j] = p;
		out[2 * j + 1] = q;
	}
}

/* Everything up to 0.4 of the final rate is kept, and nothing that would fold upon it. */
static int first_taps(const struct zoom *z, double *half_hz)
{
	double middle = (double)z->rate_hz / z->first_by, keep = 0.4 * zoom_rate(z);

	*half_hz = 0.5 * middle;
	if (z->first_by == 1)
		return 1;
	return lowpass_taps(keep, middle - keep, z->rate_hz);
}

static int second_taps(const struct zoom *z)
{
	double middle = (double)z->rate_hz / z->first_by;

	if (z->second_by == 1 && z->first_by > 1)
		return 1;
	return lowpass_taps(0, EDGE * zoom_rate(z), middle);
}

struct zoom *zoom_create(int32_t rate_hz, size_t n, double out_hz)
{
	struct zoom *z = calloc(1, sizeof *z);
	double half;
	if (!z)
		return NULL;
	assert(rate_hz > 0 && out_hz > 0);
	z->rate_hz = rate_hz;
	/* The wide one has but one filter: a sharp one would gain it nothing. */
	double middle = out_hz < ZOOM_WIDE_HZ ? MIDDLE * out_hz : out_hz;
	z->first_by = (int)fmax(floor(rate_hz / middle), 1);
	z->second_by = out_hz < ZOOM_WIDE_HZ ?
		(int)fmax(rint(rate_hz / out_hz / z->first_by), 1) : 1;
	int first = first_taps(z, &half), second = second_taps(z);
	z->middle_room = n / (size_t)z->first_by + (size_t)second + 2;
	z->plain = malloc((size_t)first * sizeof *z->plain);
	z->low = malloc((size_t)second * sizeof *z->low);
	z->middle = calloc(z->middle_room + LANES, sizeof *z->middle);
	z->out = calloc(z->middle_room / (size_t)z->second_by + 2, sizeof *z->out);
	if (!z->plain || !z->low || !z->middle || !z->out ||
	    !fir_create(&z->first, first) || !fir_create(&z->second, second))
		goto fail;
	lowpass_fill(z->plain, first, half, rate_hz);
	zoom_aim(z, 0, 0.5 * zoom_widest(z));
	return z;
fail:
	zoom_destroy(z);
	return NULL;
}

void zoom_destroy(struct zoom *z)
{
	if (!z)
		return;
	free(z->plain);
	free(z->low);
	free(z->first.re);
	free(z->first.im);
	free(z->second.re);
	free(z->second.im);
	free(z->middle);
	free(z->out);
	free(z);
}

double zoom_rate(const struct zoom *z)
{
	return (double)z->rate_hz / z->first_by / z->second_by;
}

double zoom_noise_hz(const struct zoom *z)
{
	return z->noise_hz;
}

double zoom_widest(const struct zoom *z)
{
	return 0.8 * zoom_rate(z);
}

const float complex *zoom_out(const struct zoom *z)
{
	return z->out;
}

/* The two filters as one: squares of its taps are the noise that passes. */
static double noise_width(const struct zoom *z)
{
	int first = z->first.taps, second = z->second.taps, by = z->first_by;
	double squares = 0;

	for (int i = 0; i < first + (second - 1) * by; i++) {
		double tap = 0;
		int from = i < first ? 0 : (i - first) / by + 1, to = i / by;
		for (int k = from; k <= to && k < second; k++)
			tap += (double)z->low[k] * z->plain[i - k * by];
		squares += tap * tap;
	}
	return squares * z->rate_hz;
}

void zoom_aim(struct zoom *z, double offset_hz, double pass_hz)
{
	double half, middle = (double)z->rate_hz / z->first_by;
	int second = second_taps(z);

	assert(pass_hz > 0 && pass_hz <= zoom_widest(z) * 1.0001);
	z->pass_hz = pass_hz;
	z->turn = 2 * M_PI * offset_hz / z->rate_hz;
	fir_set(&z->first, z->plain, first_taps(z, &half), z->turn);
	/* Half way down in the middle of the transition. */
	lowpass_fill(z->low, second, 0.5 * (pass_hz + EDGE * zoom_rate(z)), middle);
	fir_set(&z->second, z->low, second, 0);
	z->noise_hz = noise_width(z);
	z->at = 1;
	z->held = 0;
	z->next = 0;
	z->fresh = true;
}

/* Turns what the first filter gave back to where the stream is. */
static void turn_back(struct zoom *z, float complex *x, size_t count)
{
	double complex by = cexp(-I * z->turn * z->first_by);

	for (size_t i = 0; i < count; i++) {
		x[i] *= (float complex)z->at;
		z->at *= by;
	}
	z->at /= cabs(z->at);
}

size_t zoom_draw(struct zoom *z, const struct reel *r, size_t from, size_t to)
{
	int64_t at = z->fresh ? (int64_t)from : z->next, end = (int64_t)(to < r->n ? to : r->n);
	size_t count = 0, drawn = 0;

	assert(at >= -(int64_t)r->before);
	if (at + z->first.taps <= end)
		count = (size_t)((end - at - z->first.taps) / z->first_by) + 1;
	assert(z->held + count <= z->middle_room);
	float complex *middle = z->middle + z->held;
	fir_run(r->iq + 2 * ((int64_t)r->before + at), count, (size_t)z->first_by, z->first.re,
		z->first.im, z->first.padded, (float *)middle);
	turn_back(z, middle, count);
	z->held += count;
	z->next = at + (int64_t)count * z->first_by - (int64_t)r->n;
	z->fresh = false;
	if (z->held >= (size_t)z->second.taps)
		drawn = (z->held - (size_t)z->second.taps) / (size_t)z->second_by + 1;
	fir_run((const float *)z->middle, drawn, (size_t)z->second_by, z->second.re, z->second.im,
		z->second.padded, (float *)z->out);
	z->held -= drawn * (size_t)z->second_by;
	memmove(z->middle, z->middle + drawn * (size_t)z->second_by, z->held * sizeof *z->middle);
	return drawn;
}
