#include "dsp/detect.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/attribute.h"
#include "dsp/seats.h"

#define OVERLOAD      0.01      /* share of clipped samples past which only the strongest */
				/* emission is believed                                   */
#define STRAINED      0.001     /* ... past which spurs up to 30 dB down are not           */
#define STRANGER_HZ   7500.0    /* about a narrow emission                                */
#define SWITCHING     0.05      /* a slice this much weaker than the strongest: it is keyed */

#define AMID         0.15       /* steps about the middle of two channels: either will do  */

struct detector {
	struct seats    seats;
	enum verdict   *verdict;
	int            *order;          /* candidates, strongest first */
	double          bin_freedom;    /* of three neighbouring bins  */
	struct finding  finding[FINDINGS_MAX];
	struct extent   extent[FINDINGS_MAX + 1];       /* heard, with or without a seat        */
	int             heard;
	double          believe_db;     /* how far below the strongest in this look; 0: any */
	struct judged   judged;
};

struct detector *detector_create(const struct sense *sense, const struct look *like,
				 const float *window, int hop_samples,
				 const struct band *bands, int n_bands, int max_seats)
{
	struct detector *d = calloc(1, sizeof *d);
	if (!d)
		return NULL;
	if (!seats_open(&d->seats, sense, like, window, hop_samples, bands, n_bands, max_seats))
		goto fail;
	size_t most = (size_t)d->seats.most + 1;
	d->verdict = calloc(most, sizeof *d->verdict);
	d->order = calloc(most, sizeof *d->order);
	if (!d->verdict || !d->order)
		goto fail;
	d->bin_freedom = window_freedom(window, like->bins, hop_samples, like->transforms, 0, 3);
	return d;
fail:
	detector_destroy(d);
	return NULL;
}

void detector_destroy(struct detector *d)
{
	if (!d)
		return;
	seats_close(&d->seats);
	free(d->verdict);
	free(d->order);
	free(d);
}

double detector_opens(const struct detector *d, int32_t band)
{
	return d->seats.manner[band].on.opens;
}

double detector_holds(const struct detector *d, int32_t band)
{
	return d->seats.manner[band].on.holds;
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
	for (int i = 0; i < d->seats.n; i++)
		if (d->seats.seat[i].candidate)
			d->order[n++] = i;
	qsort_r(d->order, (size_t)n, sizeof *d->order, stronger,
		&(struct by_power){ d->seats.seat });
	return n;
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
	assert(on > 0);         /* the strongest: with every slice spoilt nothing stands out */
	f->power = sum / on;
	f->floor = s->floor;
	return fewest < SWITCHING * most;
}

/* Channels whose measured part the emission reaches into say nothing of their own. */
static void shade(struct detector *d, const struct extent *e)
{
	for (int i = 0; i < d->seats.n; i++)
		if (d->verdict[i] != VERDICT_BUSY && d->seats.seat[i].to > e->from &&
		    d->seats.seat[i].from < e->to)
			d->verdict[i] = VERDICT_BLIND;
}

/* The seat of the channel an emission belongs to, found at c, or -1. at: its centre. */
static int choose(const struct detector *d, const struct scene *in, const struct seat *c,
		  struct freq at)
{
	const struct raster *r = &d->seats.bands[c->band].raster;
	int32_t near = raster_nearest(r, at);

	if (near < 0)           /* of what lies beyond a raster nothing is one of its channels */
		return -1;
	int i = seats_of(in->hop, c->band, near);
	if (!c->between || (near != c->channel && near != c->channel + 1))
		return i;
	int other = seats_of(in->hop, c->band, near == c->channel ? near + 1 : c->channel);
	if (other < 0 || d->verdict[other] == VERDICT_BUSY)
		return i;
	/* Amid two it would fall to one and the other in turn: it stays where it was. */
	double steps =
		freq_to_hz((struct freq){ at.thirds - raster_centre(r, c->channel).thirds }) /
		freq_to_hz(r->step);
	bool stays =
		in->open && in->open[other] && i >= 0 && !in->open[i] && fabs(steps - 0.5) < AMID;
	return i < 0 || stays || d->verdict[i] == VERDICT_BUSY ? other : i;
}

static void admit(struct detector *d, const struct scene *in, int from, const struct extent *e)
{
	const struct look *l = in->look;
	struct judged *j = &d->judged;
	const struct seat *c = &d->seats.seat[from];
	double hz = (e->centroid - 0.5 * l->bins - 0.5) * l->bin_hz;
	struct freq at = { l->centre.thirds + freq_from_hz(hz).thirds };
	int i = choose(d, in, c, at);

	if (i >= 0 && d->verdict[i] != VERDICT_BUSY) {
		struct finding *f = &d->finding[j->findings];
		struct seat heard = d->seats.seat[i];
		struct freq centre = raster_centre(&d->seats.bands[c->band].raster, heard.channel);
		*f = (struct finding){ .band = c->band, .channel = heard.channel, .seat = i };
		if (c->between) {       /* as wide a part, but about its own middle */
			double half = 0.5 * (heard.to - heard.from);
			heard.from = e->centroid - half;
			heard.to = e->centroid + half;
			heard.floor = floor_power(in->floor, heard.from, heard.to);
		}
		if (time_it(l, &heard, &d->seats.manner[c->band].on, f) && j->findings == 0)
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
	for (int i = 0; i < d->seats.n; i++)
		if (d->seats.seat[i].candidate && d->seats.seat[i].from < e->to &&
		    d->seats.seat[i].to > e->from)
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
	struct scene in = { l, f, hop, open };
	struct judged *j = &d->judged;

	j->findings = d->heard = 0;
	j->verdict = d->verdict;
	j->finding = d->finding;
	j->overload = l->clipped > OVERLOAD;
	d->believe_db = l->clipped > STRAINED ? STRAINED_DB : 0;
	seats_take(&d->seats, &in);
	j->seats = d->seats.channels;
	for (int i = 0; i < d->seats.n; i++)
		d->verdict[i] = VERDICT_IDLE;
	int n = line_up(d);
	struct extent top = { 0 };
	if (n > 0 || j->overload)
		top = strongest(d, l, f);
	if (n > 0 && !seated(d, &top))
		d->extent[d->heard++] = top;
	for (int k = 0; k < n && j->findings < FINDINGS_MAX; k++) {
		int i = d->order[k];
		if (d->verdict[i] != VERDICT_IDLE ||
		    (j->overload && apart_from(&top, &d->seats.seat[i])))
			continue;
		enum explained why = attribute_explain(
			&(struct hearing){ l, f, d->extent, d->heard, d->believe_db },
			d->seats.seat[i].from, d->seats.seat[i].to, d->seats.seat[i].power);
		if (why != EXPLAINED_NOT) {
			d->verdict[i] = why == EXPLAINED_IMAGE ? VERDICT_FALSE : VERDICT_BLIND;
			continue;
		}
		struct extent e = attribute_measure(l, f, d->bin_freedom, d->seats.seat[i].from,
						    d->seats.seat[i].to);
		admit(d, &in, i, &e);
		if (j->overload)
			break;
	}
	for (int i = 0; j->overload && i < j->seats; i++)
		if (d->verdict[i] != VERDICT_BUSY)
			d->verdict[i] = VERDICT_BLIND;
	return j;
}
