#include "dsp/hop.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

static bool smooth(int32_t n)
{
	static const int32_t primes[] = { 2, 3, 5 };
	for (size_t i = 0; i < sizeof primes / sizeof primes[0]; i++)
		while (n % primes[i] == 0)
			n /= primes[i];
	return n == 1;
}

int32_t hop_bins(int32_t rate_hz, struct freq finest_step)
{
	double bin_hz = finest_step.thirds < FREQ_HZ(7500).thirds ? 625 : 1250;
	int32_t n = 2 * (int32_t)ceil(rate_hz / bin_hz / 2);

	while (!smooth(n))
		n += 2;
	return n;
}

/* What a channel needs on either side of its centre. */
static int64_t need(const struct band *b)
{
	int64_t width = FREQ_HZ(b->width_hz).thirds;
	return (width > b->raster.step.thirds ? width : b->raster.step.thirds) / 2;
}

/* Highest centre not above f that lies half way between two channels, or
 * anywhere clear of a band's channels. */
static struct freq between_channels(const struct band *bands, int n, struct freq f)
{
	for (int i = 0; i < n; i++) {
		const struct raster *r = &bands[i].raster;
		int64_t low = band_low(&bands[i]).thirds;
		if (f.thirds <= low || f.thirds >= band_high(&bands[i]).thirds)
			continue;
		return (struct freq){ low + (f.thirds - low) / r->step.thirds * r->step.thirds };
	}
	return f;
}

/* Gives to the hop the channels from (*band, *channel) on that fit, and moves on. */
static void take_channels(struct hop_plan *p, struct hop *h, const struct band *bands, int n_bands,
			  int64_t half, int *band, int32_t *channel)
{
	struct freq finest = { INT64_MAX };

	h->spans = p->spans + p->n_spans;
	h->n_spans = 0;
	while (*band < n_bands) {
		const struct band *b = &bands[*band];
		int64_t room = h->centre.thirds + half - need(b) - b->raster.first.thirds;
		int64_t last = room < 0 ? -1 : room / b->raster.step.thirds;
		if (last >= b->raster.count)
			last = b->raster.count - 1;
		if (last < *channel)
			break;
		p->spans[p->n_spans++] = (struct span){ *band, *channel,
							(int32_t)last - *channel + 1 };
		h->n_spans++;
		if (b->raster.step.thirds < finest.thirds)
			finest = b->raster.step;
		if (last < b->raster.count - 1) {
			*channel = (int32_t)last + 1;
			break;
		}
		(*band)++;
		*channel = 0;
	}
	h->bins = hop_bins(h->rate_hz, finest);
}

/* Usable half width in thirds of a hertz. */
static int64_t usable_half(int32_t rate_hz)
{
	return (int64_t)(rate_hz * HOP_USABLE * 1.5);
}

static int room_for(struct hop_plan *p, const struct band *bands, int n_bands, int32_t rate_hz)
{
	int64_t hops = 1;

	*p = (struct hop_plan){ 0 };
	for (int i = 0; i < n_bands; i++) {
		int64_t usable = 2 * usable_half(rate_hz) - 2 * need(&bands[i]) -
				 bands[i].raster.step.thirds;
		if (usable <= 0)
			return -1;
		hops += (int64_t)bands[i].raster.count * bands[i].raster.step.thirds / usable + 2;
	}
	p->hops = calloc((size_t)hops, sizeof *p->hops);
	p->spans = calloc((size_t)(hops + n_bands), sizeof *p->spans);
	return p->hops && p->spans ? 0 : -1;
}

/* Greedy from the bottom is best: some hop must hold the lowest channel left,
 * and none that does reaches higher than the highest admissible centre. */
int hop_plan_sweep(struct hop_plan *out, const struct band *bands, int n_bands, int32_t rate_hz)
{
	int band = 0;
	int32_t channel = 0;
	int64_t half = usable_half(rate_hz);

	if (room_for(out, bands, n_bands, rate_hz) < 0)
		goto fail;
	while (band < n_bands) {
		struct freq low = raster_centre(&bands[band].raster, channel);
		struct freq top = { low.thirds - need(&bands[band]) + half };
		struct hop *h = &out->hops[out->n++];
		h->rate_hz = rate_hz;
		h->centre = between_channels(bands, n_bands, top);
		take_channels(out, h, bands, n_bands, half, &band, &channel);
	}
	return 0;
fail:
	hop_plan_free(out);
	return -1;
}

int hop_plan_fixed(struct hop_plan *out, const struct band *bands, int n_bands, int32_t rate_hz,
		   struct freq centre)
{
	int64_t half = usable_half(rate_hz);
	struct freq finest = { INT64_MAX };

	*out = (struct hop_plan){ 0 };
	out->hops = calloc(1, sizeof *out->hops);
	out->spans = calloc((size_t)n_bands + 1, sizeof *out->spans);
	if (!out->hops || !out->spans) {
		hop_plan_free(out);
		return -1;
	}
	for (int i = 0; i < n_bands; i++) {
		struct raster in = raster_between(
			(struct freq){ centre.thirds - half + need(&bands[i]) },
			(struct freq){ centre.thirds + half - need(&bands[i]) },
			bands[i].raster.first, bands[i].raster.step);
		int64_t first = (in.first.thirds - bands[i].raster.first.thirds) / in.step.thirds;
		int64_t last = first + in.count - 1;
		if (first < 0)
			first = 0;
		if (last >= bands[i].raster.count)
			last = bands[i].raster.count - 1;
		if (in.count == 0 || last < first)
			continue;
		out->spans[out->n_spans++] = (struct span){ i, (int32_t)first,
							    (int32_t)(last - first + 1) };
		if (in.step.thirds < finest.thirds)
			finest = in.step;
	}
	if (out->n_spans == 0)
		return 0;
	out->n = 1;
	out->hops[0] = (struct hop){ centre, rate_hz, hop_bins(rate_hz, finest), out->spans,
				     out->n_spans };
	return 0;
}

void hop_plan_free(struct hop_plan *p)
{
	free(p->hops);
	free(p->spans);
	*p = (struct hop_plan){ 0 };
}
