#include "dsp/look.h"

#include <assert.h>
#include <complex.h>
#include <stdlib.h>
#include <string.h>

struct channeliser {
	struct spectrum *spectrum;
	int32_t          rate_hz;
	size_t           n;
	float           *sum;           /* one slice, bin by bin */
	struct look      look;
};

double look_power(const double *row, int bins, double from, double to)
{
	double a = from < 0 ? 0 : from > bins ? bins : from;
	double b = to < 0 ? 0 : to > bins ? bins : to;
	int i = (int)a, j = (int)b;

	i -= i == bins;
	j -= j == bins;
	return row[j] + (b - j) * (row[j + 1] - row[j]) - row[i] - (a - i) * (row[i + 1] - row[i]);
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

	return (size_t)(hop * (per * (slices < 1 ? 1 : slices) + 1));
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
	c->sum = calloc((size_t)bins, sizeof *c->sum);
	cut(l, rate_hz, hop, (int)((n - (size_t)bins) / (size_t)hop) + 1);
	l->bins = bins;
	l->bin_hz = (double)rate_hz / bins;
	l->total = calloc((size_t)bins + 1, sizeof *l->total);
	l->slice = calloc((size_t)l->slices * ((size_t)bins + 1), sizeof *l->slice);
	if (!c->spectrum || !c->sum || !l->total || !l->slice)
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
	free(c->sum);
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
static void bridge_centre(float *sum, int bins)
{
	int c = bins / 2;
	if (bins < 16)
		return;
	sum[c - 1] = 0.5f * (sum[c - 3] + sum[c - 2]);
	sum[c + 1] = 0.5f * (sum[c + 2] + sum[c + 3]);
	sum[c] = 0.5f * (sum[c - 1] + sum[c + 1]);
}

static void add_up(const float *sum, int bins, double scale, double *row)
{
	row[0] = 0;
	for (int k = 0; k < bins; k++)
		row[k + 1] = row[k] + scale * (double)sum[k];
}

struct look *channeliser_look(struct channeliser *c, const struct block *b)
{
	struct look *l = &c->look;
	int hop = spectrum_hop(c->spectrum);
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
		memset(c->sum, 0, (size_t)l->bins * sizeof *c->sum);
		spectrum_add(c->spectrum, b, (size_t)s * (size_t)(l->slice_transforms * hop),
			     l->slice_transforms, mean, c->sum);
		bridge_centre(c->sum, l->bins);
		add_up(c->sum, l->bins, 1.0 / l->slice_transforms,
		       l->slice + (size_t)s * (size_t)(l->bins + 1));
	}
	look_leave_out(l);
	return l;
}

void look_leave_out(struct look *l)
{
	int good = 0;

	memset(l->total, 0, ((size_t)l->bins + 1) * sizeof *l->total);
	for (int s = 0; s < l->slices; s++) {
		if (l->spoilt[s])
			continue;
		const double *row = look_slice(l, s);
		for (int k = 0; k <= l->bins; k++)
			l->total[k] += row[k];
		good++;
	}
	for (int k = 0; good && k <= l->bins; k++)
		l->total[k] /= good;
	l->good = good;
	l->span_us = l->length_us * good / l->slices;
}
