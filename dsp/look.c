#include "dsp/look.h"

#include "dsp/hot.h"

#include <assert.h>
#include <complex.h>
#include <stdlib.h>
#include <string.h>

struct channeliser {
	struct spectrum *spectrum;
	int32_t          rate_hz;
	size_t           n;
	struct look      look;
};

/* A position as a bin and how far into it; the last bin's end belongs to it. */
static int bin_at(double position, int bins, double *into)
{
	double p = position < 0 ? 0 : position > bins ? bins : position;
	int k = (int)p;

	k -= k == bins;
	*into = p - k;
	return k;
}

double look_power(const double *row, int bins, double from, double to)
{
	double a, b;
	int i = bin_at(from, bins, &a), j = bin_at(to, bins, &b);

	return row[j] + b * (row[j + 1] - row[j]) - row[i] - a * (row[i + 1] - row[i]);
}

double look_slice_power(const struct look *l, int slice, double from, double to)
{
	const float *bin = look_slice(l, slice);
	double a, b;
	int i = bin_at(from, l->bins, &a), j = bin_at(to, l->bins, &b);
	double power = b * (double)bin[j] - a * (double)bin[i];

	for (int k = i; k < j; k++)
		power += (double)bin[k];
	return power;
}

/* Transforms in a slice of about LOOK_SLICE_US. */
static int slice_transforms(int32_t rate_hz, int hop)
{
	int per = (int)((double)LOOK_SLICE_US * 1e-6 * rate_hz / hop + 0.5);
	return per < 1 ? 1 : per;
}

size_t look_samples(int32_t rate_hz, int bins, int64_t us)
{
	int hop = bins / 2, per = slice_transforms(rate_hz, hop);
	int slices = (int)((double)us * 1e-6 * rate_hz / (per * hop) + 0.5);

	return (size_t)hop * ((size_t)per * (size_t)(slices < 1 ? 1 : slices) + 1);
}

/* Neighbouring transforms overlap by half: each stands for the hop at its middle. */
int64_t look_slice_us(const struct look *l, int slice)
{
	double hop_us = 0.5e6 / l->bin_hz;

	if (slice <= 0)
		return 0;
	if (slice >= l->slices)
		return l->length_us;
	return (int64_t)(hop_us * (0.5 + slice * l->slice_transforms));
}

static void cut(struct look *l, int32_t rate_hz, int hop, int transforms)
{
	int per = slice_transforms(rate_hz, hop);

	while (transforms / per > LOOK_SLICES_MAX)
		per++;
	if (per > transforms)
		per = transforms;
	l->slice_transforms = per;
	l->slices = transforms / per;
	l->transforms = l->slices * per;
}

struct channeliser *channeliser_create(int32_t rate_hz, int bins, size_t n)
{
	int hop = bins / 2;
	assert(n >= (size_t)bins);
	struct channeliser *c = calloc(1, sizeof *c);
	if (!c)
		return NULL;
	struct look *l = &c->look;
	c->rate_hz = rate_hz;
	c->n = n;
	c->spectrum = spectrum_create(bins, hop, WINDOW_KAISER, WINDOW_BETA);
	cut(l, rate_hz, hop, (int)((n - (size_t)bins) / (size_t)hop) + 1);
	l->bins = bins;
	l->bin_hz = (double)rate_hz / bins;
	l->total = calloc((size_t)bins + 1, sizeof *l->total);
	l->slice = calloc((size_t)l->slices * (size_t)bins, sizeof *l->slice);
	if (!c->spectrum || !l->total || !l->slice)
		goto fail;
	return c;
fail:
	channeliser_destroy(c);
	return NULL;
}

void channeliser_destroy(struct channeliser *c)
{
	if (!c)
		return;
	spectrum_destroy(c->spectrum);
	free(c->look.total);
	free(c->look.slice);
	free(c);
}

size_t channeliser_samples(const struct channeliser *c)
{
	return c->n;
}

const struct spectrum *channeliser_spectrum(const struct channeliser *c)
{
	return c->spectrum;
}

const struct look *channeliser_like(const struct channeliser *c)
{
	return &c->look;
}

/* Mean power of a converter's rounding: a twelfth of a step squared on each rail. */
static double quantum(enum sample_format f)
{
	static const double full[SAMPLE_FORMATS] = { 127.5, 128, 32768, 1e9 };
	return 2.0 / 12 / (full[f] * full[f]);
}

/* The tuner's own line stands at the centre: read its bins off their neighbours,
 * each side off its own, for channels of 7.5 and 25/3 kHz reach into the outer two
 * and what one of them carries must not show in the other. */
static void bridge_centre(float *bin, int bins)
{
	int c = bins / 2;
	if (bins < 16)
		return;
	bin[c - 1] = 0.5f * (bin[c - 3] + bin[c - 2]);
	bin[c + 1] = 0.5f * (bin[c + 2] + bin[c + 3]);
	bin[c] = 0.5f * (bin[c - 1] + bin[c + 1]);
}

HOT static void scale(float *x, int n, float by)
{
	for (int i = 0; i < n; i++)
		x[i] *= by;
}

struct look *channeliser_look(struct channeliser *c, const struct block *b)
{
	struct look *l = &c->look;
	size_t samples = (size_t)l->slice_transforms * (size_t)spectrum_hop(c->spectrum);
	float _Complex mean = block_mean(b);

	assert(b->n >= c->n && b->rate_hz == c->rate_hz);
	l->centre = b->centre;
	l->start_us = b->start_us;
	l->mono_us = b->mono_us;
	l->length_us = (int64_t)(1e6 * (double)c->n / c->rate_hz + 0.5);
	l->clipped = block_clipped(b);
	l->quantum = quantum(b->format);
	l->gap = b->gap;
	memset(l->spoilt, 0, sizeof l->spoilt);
	for (int s = 0; s < LOOK_SLICES_MAX; s++)
		l->lift[s] = 1;
	for (int s = 0; s < l->slices; s++) {
		float *bin = look_slice(l, s);
		memset(bin, 0, (size_t)l->bins * sizeof *bin);
		spectrum_add(c->spectrum, b, (size_t)s * samples, l->slice_transforms, mean, bin);
		scale(bin, l->bins, 1 / (float)l->slice_transforms);
		bridge_centre(bin, l->bins);
	}
	look_leave_out(l);
	return l;
}

HOT static void add(float *restrict sum, const float *restrict x, int n)
{
	for (int i = 0; i < n; i++)
		sum[i] += x[i];
}

#define STRETCH 256             /* bins whose sums stay close at hand */

void look_leave_out(struct look *l)
{
	l->good = 0;
	for (int s = 0; s < l->slices; s++)
		l->good += !l->spoilt[s];
	double by = l->good ? 1.0 / l->good : 0;
	l->total[0] = 0;
	for (int from = 0; from < l->bins; from += STRETCH) {
		float sum[STRETCH] = { 0 };
		int n = l->bins - from < STRETCH ? l->bins - from : STRETCH;
		for (int s = 0; s < l->slices; s++)
			if (!l->spoilt[s])
				add(sum, look_slice(l, s) + from, n);
		for (int k = 0; k < n; k++)
			l->total[from + k + 1] = l->total[from + k] + by * (double)sum[k];
	}
	l->span_us = l->length_us * l->good / l->slices;
}
