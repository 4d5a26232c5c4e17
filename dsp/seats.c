#include "dsp/seats.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

#define BETWEEN_PART 0.05       /* of a channel's false alarms, for what lies beside it    */

static bool manner_of(struct manner *m, const struct sense *sense, const struct look *like,
		      const float *window, int hop_samples, const struct band *b)
{
	double wide = band_measured_hz(b), bins = wide / like->bin_hz;
	double gap = freq_to_hz(b->raster.step) - wide;
	/* On most rasters a tuner between two channels puts their centres amid a bin. */
	double edge = 0.5 - bins / 2, end = edge + bins;
	struct sense on = *sense, between = *sense, outermost = *sense;

	*m = (struct manner){ .half_hz = wide / 2, .gap_hz = gap > like->bin_hz ? gap : 0 };
	if (m->gap_hz > 0) {
		between.pfa *= BETWEEN_PART;
		on.pfa -= between.pfa;
		outermost.pfa = between.pfa / 2;
		end -= floor(end);
		if (!limits_set(&m->between, &between, like, window, hop_samples, end, gap) ||
		    !limits_set(&m->outermost, &outermost, like, window, hop_samples, end, gap / 2))
			return false;
	}
	return limits_set(&m->on, &on, like, window, hop_samples, edge - floor(edge), wide);
}

bool seats_open(struct seats *s, const struct sense *sense, const struct look *like,
		const float *window, int hop_samples, const struct band *bands, int n_bands,
		int max_channels)
{
	/* A gap to each channel, and one below the first of each raster. */
	*s = (struct seats){ .bands = bands, .most = 3 * max_channels };
	s->manner = calloc((size_t)n_bands + 1, sizeof *s->manner);
	s->seat = calloc((size_t)s->most + 1, sizeof *s->seat);
	if (!s->manner || !s->seat)
		return false;
	for (int i = 0; i < n_bands; i++)
		if (!manner_of(&s->manner[i], sense, like, window, hop_samples, &bands[i]))
			return false;
	return true;
}

void seats_close(struct seats *s)
{
	free(s->manner);
	free(s->seat);
}

/* A burst much shorter than the look shows in a slice before it shows in all. */
static bool slice_opens(const struct look *l, const struct seat *s, const struct limits *t)
{
	for (int i = 0; i < l->slices; i++)
		if (!l->spoilt[i] &&
		    look_slice_power(l, i, s->from, s->to) >
			    t->slice_opens * l->lift[i] * s->floor)
			return true;
	return false;
}

/* Measures the part of the look from one offset to another from its centre. */
static struct seat *take(struct seats *a, const struct scene *in, double from_hz, double to_hz)
{
	assert(a->n < a->most);
	struct seat *s = &a->seat[a->n++];

	*s = (struct seat){ .from = look_edge(in->look, from_hz),
			    .to = look_edge(in->look, to_hz) };
	s->power = look_power(in->look->total, in->look->bins, s->from, s->to);
	s->floor = floor_power(in->floor, s->from, s->to);
	return s;
}

static bool stands_out(const struct look *l, const struct seat *s, const struct limits *t,
		       bool open)
{
	return s->power > (open ? t->holds : t->opens) * s->floor ||
	       (s->power > t->glance * s->floor && slice_opens(l, s, t));
}

static double offset_of(const struct seats *a, const struct look *l, int32_t band, int32_t channel)
{
	struct freq at = raster_centre(&a->bands[band].raster, channel);
	return freq_to_hz((struct freq){ at.thirds - l->centre.thirds });
}

static void take_channels(struct seats *a, const struct scene *in)
{
	for (int i = 0; i < in->hop->n_spans; i++) {
		const struct span *span = &in->hop->spans[i];
		const struct manner *m = &a->manner[span->band];
		for (int32_t c = span->first; c < span->first + span->count; c++) {
			double off = offset_of(a, in->look, span->band, c);
			bool open = in->open && in->open[a->n];
			struct seat *s = take(a, in, off - m->half_hz, off + m->half_hz);
			s->band = span->band;
			s->channel = c;
			s->candidate = stands_out(in->look, s, &m->on, open);
		}
	}
}

/* Nothing on the air may be missed for lying off the raster: the gaps between the
 * measured parts are looked at too. Not the one about the tuner's own line, whose bins
 * are read off others. Outermost, half a gap is the band's. */
static void take_gaps(struct seats *a, const struct scene *in)
{
	const struct look *l = in->look;
	int middle = l->bins / 2;

	for (int i = 0; i < in->hop->n_spans; i++) {
		const struct span *span = &in->hop->spans[i];
		const struct manner *m = &a->manner[span->band];
		int32_t last = a->bands[span->band].raster.count - 1;
		int32_t first = span->first > 0 ? span->first : -1;
		for (int32_t c = first; m->gap_hz > 0 && c < span->first + span->count; c++) {
			double low = offset_of(a, l, span->band, c) + m->half_hz,
			       high = low + m->gap_hz;
			low += c < 0 ? m->gap_hz / 2 : 0;
			high -= c == last ? m->gap_hz / 2 : 0;
			if (look_edge(l, low) < middle + 2 && look_edge(l, high) > middle - 1)
				continue;
			struct seat *s = take(a, in, low, high);
			s->band = span->band;
			s->channel = c;
			s->between = true;
			s->candidate = stands_out(
				l, s, c < 0 || c == last ? &m->outermost : &m->between, false);
		}
	}
}

int seats_of(const struct hop *hop, int32_t band, int32_t channel)
{
	int base = 0;
	for (int i = 0; i < hop->n_spans; base += hop->spans[i].count, i++) {
		const struct span *s = &hop->spans[i];
		if (s->band == band && channel >= s->first && channel < s->first + s->count)
			return base + channel - s->first;
	}
	return -1;
}

void seats_take(struct seats *a, const struct scene *in)
{
	a->n = 0;
	take_channels(a, in);
	a->channels = a->n;
	take_gaps(a, in);
}
