#include "dsp/detect.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/attribute.h"
#include "dsp/chance.h"

#define CLOSE_PFA     1e-2      /* an open channel stays open at this, or ...             */
#define CLOSE_LESS_DB 1.5       /* ... this far below where it opened, if that is more    */
#define GLANCE_PFA    5e-2      /* slices are worth a look when the whole is this unusual */
#define OVERLOAD      0.01      /* share of clipped samples past which only the strongest */
				/* emission is believed                                   */
#define STRAINED      0.001     /* ... past which spurs up to 30 dB down are not           */
#define STRANGER_HZ   7500.0    /* about a narrow emission                                */
#define SWITCHING     0.05      /* a slice this much weaker than the strongest: it is keyed */

/* Thresholds of one band: they depend on its measured width. */
struct limits {
	double half_hz;                 /* half the measured width */
	double opens, holds, slice_opens, slice_holds, glance;
};

struct seat {
	int32_t band, channel;
	double  from, to;               /* on the look's bins */
	double  power, floor;
	bool    candidate;
};

struct detector {
	struct limits  *limits;
	const struct band *bands;
	struct seat    *seat;
	enum verdict   *verdict;
	int            *order;          /* candidates, strongest first */
	int             max_seats;
	double          bin_freedom;    /* of three neighbouring bins  */
	struct finding  finding[FINDINGS_MAX];
	struct extent   extent[FINDINGS_MAX + 1];       /* heard, with or without a seat        */
	int             heard;
	double          believe_db;     /* how far below the strongest in this look; 0: any */
	struct judged   judged;
};

static struct limits limits_for(const struct sense *sense, const struct look *like,
				const float *window, int hop_samples, const struct band *b)
{
	double wide = band_measured_hz(b), bins = wide / like->bin_hz;
	double margin = pow(10, sense->margin_db / 10);
	/* On most rasters a tuner between two channels puts their centres amid a bin. */
	double edge = 0.5 - bins / 2 - floor(0.5 - bins / 2);
	double nu = window_freedom(window, like->bins, hop_samples, like->transforms, edge, bins);
	double nu_slice = window_freedom(window, like->bins, hop_samples, like->slice_transforms,
					 edge, bins);
	struct limits t = { .half_hz = wide / 2 };

	/* The rate asked for is shared between the whole look and its slices. */
	t.opens = fmax(chance_threshold(nu, like->slices > 1 ? sense->pfa / 2 : sense->pfa), margin);
	t.holds = fmax(chance_threshold(nu, CLOSE_PFA), t.opens * pow(10, -CLOSE_LESS_DB / 10));
	t.holds = fmin(t.holds, t.opens);
	t.slice_opens = fmax(chance_threshold(nu_slice, sense->pfa / 2 / like->slices), margin);
	t.slice_holds = chance_threshold(nu_slice, CLOSE_PFA);
	t.glance = fmin(chance_threshold(nu, GLANCE_PFA), t.opens);
	return t;
}

struct detector *detector_create(const struct sense *sense, const struct look *like,
				 const float *window, int hop_samples,
				 const struct band *bands, int n_bands, int max_seats)
{
	struct detector *d = calloc(1, sizeof *d);
	if (!d)
		return NULL;
	d->bands = bands;
	d->max_seats = max_seats;
	d->limits = calloc((size_t)n_bands + 1, sizeof *d->limits);
	d->seat = calloc((size_t)max_seats + 1, sizeof *d->seat);
	d->verdict = calloc((size_t)max_seats + 1, sizeof *d->verdict);
	d->order = calloc((size_t)max_seats + 1, sizeof *d->order);
	if (!d->limits || !d->seat || !d->verdict || !d->order)
		goto fail;
	d->bin_freedom = window_freedom(window, like->bins, hop_samples, like->transforms, 0, 3);
	for (int i = 0; i < n_bands; i++)
		d->limits[i] = limits_for(sense, like, window, hop_samples, &bands[i]);
	return d;
fail:
	detector_destroy(d);
	return NULL;
}

void detector_destroy(struct detector *d)
{
	if (!d)
		return;
	free(d->limits);
	free(d->seat);
	free(d->verdict);
	free(d->order);
	free(d);
}

double detector_opens(const struct detector *d, int32_t band)
{
	return d->limits[band].opens;
}

double detector_holds(const struct detector *d, int32_t band)
{
	return d->limits[band].holds;
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

static void sit(struct detector *d, const struct look *l, const struct floor *f,
		const struct hop *hop, const bool *open)
{
	int n = 0;

	for (int i = 0; i < hop->n_spans; i++) {
		const struct span *span = &hop->spans[i];
		const struct limits *t = &d->limits[span->band];
		for (int32_t c = span->first; c < span->first + span->count; c++, n++) {
			struct seat *s = &d->seat[n];
			struct freq at = raster_centre(&d->bands[span->band].raster, c);
			double off = freq_to_hz((struct freq){ at.thirds - l->centre.thirds });
			s->band = span->band;
			s->channel = c;
			s->from = look_edge(l, off - t->half_hz);
			s->to = look_edge(l, off + t->half_hz);
			s->power = look_power(l->total, l->bins, s->from, s->to);
			s->floor = floor_power(f, s->from, s->to);
			double limit = (open && open[n] ? t->holds : t->opens) * s->floor;
			s->candidate = s->power > limit ||
				       (s->power > t->glance * s->floor && slice_opens(l, s, t));
			d->verdict[n] = VERDICT_IDLE;
		}
	}
	assert(n <= d->max_seats);
	d->judged.seats = n;
}

struct by_power {
	const struct seat *seat;
};

static int stronger(const void *a, const void *b, void *self)
{
	const struct seat *seat = ((struct by_power *)self)->seat;
	double x = seat[*(const int *)a].power, y = seat[*(const int *)b].power;
	if (x != y)
		return x < y ? 1 : -1;
	return *(const int *)a - *(const int *)b;
}

static int line_up(struct detector *d)
{
	int n = 0;
	for (int i = 0; i < d->judged.seats; i++)
		if (d->seat[i].candidate)
			d->order[n++] = i;
	qsort_r(d->order, (size_t)n, sizeof *d->order, stronger, &(struct by_power){ d->seat });
	return n;
}

/* Index of a channel among the seats, or -1 when this hop does not judge it. */
static int seat_of(const struct hop *hop, int32_t band, int32_t channel)
{
	int base = 0;
	for (int i = 0; i < hop->n_spans; base += hop->spans[i].count, i++) {
		const struct span *s = &hop->spans[i];
		if (s->band == band && channel >= s->first && channel < s->first + s->count)
			return base + channel - s->first;
	}
	return -1;
}

/* When within the look it was on, and how strong then. Returns whether it was
 * keyed on or off in it: that splashes over its neighbours. */
static bool time_it(const struct look *l, const struct seat *s, const struct limits *t,
		    struct finding *f)
{
	double power[LOOK_SLICES_MAX], most = 0, fewest = HUGE_VAL, sum = 0;
	int on = 0;

	for (int i = 0; i < l->slices; i++) {
		power[i] = l->spoilt[i] ? 0 : look_slice_power(l, i, s->from, s->to);
		most = fmax(most, power[i]);
		fewest = l->spoilt[i] ? fewest : fmin(fewest, power[i]);
	}
	/* Slices that a strong edge only smears into are 13 dB down or more. */
	double least = fmin(most, fmax(t->slice_holds * s->floor, 0.05 * most));
	f->first_slice = -1;
	for (int i = 0; i < l->slices; i++) {
		if (power[i] < least || l->spoilt[i])
			continue;
		if (f->first_slice < 0)
			f->first_slice = i;
		f->last_slice = i;
		sum += power[i];
		on++;
	}
	if (f->first_slice < 0) {       /* every slice spoilt, or none stands out */
		f->first_slice = 0;
		f->last_slice = l->slices - 1;
	}
	f->power = on ? sum / on : s->power;
	f->floor = s->floor;
	return fewest < SWITCHING * most;
}

/* Channels whose measured part the emission reaches into say nothing of their own. */
static void shade(struct detector *d, const struct extent *e)
{
	for (int i = 0; i < d->judged.seats; i++)
		if (d->verdict[i] != VERDICT_BUSY && d->seat[i].to > e->from &&
		    d->seat[i].from < e->to)
			d->verdict[i] = VERDICT_BLIND;
}

static void admit(struct detector *d, const struct look *l, const struct hop *hop, int from,
		  const struct extent *e)
{
	struct judged *j = &d->judged;
	const struct seat *c = &d->seat[from];
	const struct band *band = &d->bands[c->band];
	double hz = (e->centroid - 0.5 * l->bins - 0.5) * l->bin_hz;
	struct freq at = { l->centre.thirds + freq_from_hz(hz).thirds };
	int32_t channel = raster_nearest(&band->raster, at);
	int i = channel < 0 ? -1 : seat_of(hop, c->band, channel);

	d->verdict[from] = VERDICT_BLIND;
	if (i >= 0 && d->verdict[i] != VERDICT_BUSY) {
		struct finding *f = &d->finding[j->findings];
		struct freq centre = raster_centre(&band->raster, channel);
		*f = (struct finding){ .band = c->band, .channel = channel, .seat = i };
		if (time_it(l, &d->seat[i], &d->limits[c->band], f) && j->findings == 0 &&
		    !(d->believe_db > 0 && d->believe_db < SPLASH_DB))
			d->believe_db = SPLASH_DB;
		f->offset_hz = freq_to_hz((struct freq){ at.thirds - centre.thirds });
		f->width_hz = e->width * l->bin_hz;
		j->findings++;
		d->extent[d->heard++] = *e;
		d->verdict[i] = VERDICT_BUSY;
	}
	shade(d, e);
}

/* The strongest thing in the whole window may sit on no channel of this hop, and
 * yet its skirts and products reach the others. */
static struct extent strongest(const struct detector *d, const struct look *l,
			       const struct floor *f)
{
	int peak = 0;

	for (int k = 1; k < l->bins; k++)
		if (l->total[k + 1] - l->total[k] > l->total[peak + 1] - l->total[peak])
			peak = k;
	double half = 0.5 * STRANGER_HZ / l->bin_hz;
	return attribute_measure(l, f, d->bin_freedom, peak + 0.5 - half, peak + 0.5 + half);
}

/* Whether any channel judged here could be its own. */
static bool seated(const struct detector *d, const struct extent *e)
{
	for (int i = 0; i < d->judged.seats; i++)
		if (d->seat[i].candidate && d->seat[i].from < e->to && d->seat[i].to > e->from)
			return true;
	return false;
}

static bool apart_from(const struct extent *e, const struct seat *s)
{
	return s->from > e->to || s->to < e->from;
}

const struct judged *detector_judge(struct detector *d, const struct look *l,
				    const struct floor *f, const struct hop *hop,
				    const bool *open)
{
	struct judged *j = &d->judged;

	j->findings = d->heard = 0;
	j->verdict = d->verdict;
	j->finding = d->finding;
	j->overload = l->clipped > OVERLOAD;
	d->believe_db = l->clipped > STRAINED ? STRAINED_DB : 0;
	sit(d, l, f, hop, open);
	int n = line_up(d);
	struct extent top = { 0 };
	if (n > 0 || j->overload)
		top = strongest(d, l, f);
	if (n > 0 && !seated(d, &top))
		d->extent[d->heard++] = top;
	for (int k = 0; k < n && j->findings < FINDINGS_MAX; k++) {
		int i = d->order[k];
		if (d->verdict[i] != VERDICT_IDLE || (j->overload && apart_from(&top, &d->seat[i])))
			continue;
		enum explained why = attribute_explain(
			&(struct hearing){ l, f, d->extent, d->heard, d->believe_db },
			d->seat[i].from, d->seat[i].to, d->seat[i].power);
		if (why != EXPLAINED_NOT) {
			d->verdict[i] = why == EXPLAINED_IMAGE ? VERDICT_FALSE : VERDICT_BLIND;
			continue;
		}
		struct extent e = attribute_measure(l, f, d->bin_freedom, d->seat[i].from,
						    d->seat[i].to);
		admit(d, l, hop, i, &e);
		if (j->overload)
			break;
	}
	for (int i = 0; j->overload && i < j->seats; i++)
		if (d->verdict[i] != VERDICT_BUSY)
			d->verdict[i] = VERDICT_BLIND;
	return j;
}
