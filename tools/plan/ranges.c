#include "tools/plan/layout.h"

#include "tools/plan/list.h"
#include "tools/plan/scan.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define SNAP_CHANNELS 12        /* 12 x 25/3 kHz is the first multiple of both 5 and 25/3 */

/* One band under the search planner. */
struct tract {
	const struct matter    *m;
	const struct judgement *j;
	struct plan            *p;
	int                     band;
	const struct reach     *reach;
	struct freq             step;
	int32_t                 most;           /* channels a sweep has time for */
	bool                    chance;         /* nothing light in it                   */
	int32_t                 from, to;       /* longest free stretch, from -1: none   */
};

/* A search would stay at it for good. */
static bool sticks(const struct channel *ch)
{
	return ch->occupancy > CONTINUOUS_SHARE;
}

/* How far from a signal so wide a search must end not to open on it. */
static double guard(const struct tract *t, double width_hz)
{
	return width_hz / 2 + freq_to_hz(t->step) +
	       freq_to_hz(t->m->census->band[t->band].raster.step);
}

/* Whether raster channel n is too near something that never ends. */
static bool blocked(const struct tract *t, int32_t n)
{
	const struct census *c = t->m->census;
	double at = freq_to_hz(raster_centre(&c->band[t->band].raster, n));

	for (int i = 0; i < c->channels; i++) {
		const struct channel *ch = &c->channel[i];
		double width = fmax(ch->width_hz, c->band[ch->band].width_hz);
		if (sticks(ch) && fabs(channel_hz(ch) - at) <= guard(t, width))
			return true;
	}
	return false;
}

/* Whether a search on the chance would only meet there what has a memory. */
static bool known(const struct tract *t, int32_t n)
{
	const struct band *b = &t->m->census->band[t->band];
	double at = freq_to_hz(raster_centre(&b->raster, n));

	for (int i = 0; t->chance && i < t->p->memories; i++)
		if (fabs(freq_to_hz(t->p->memory[i].landing.landed) - at) <= guard(t, b->width_hz))
			return true;
	return false;
}

static int lights(const struct tract *t, int32_t from, int32_t to)
{
	const struct census *c = t->m->census;
	int n = 0;

	for (int i = 0; i < c->channels; i++)
		n += c->channel[i].band == t->band && (t->j[i].light || t->chance) &&
		     c->channel[i].channel >= from && c->channel[i].channel <= to;
	return n;
}

/* The first channel from `from` towards `to` that lands exactly, when one is near;
 * else from itself. */
static struct freq exact(const struct tract *t, int32_t from, int32_t to)
{
	const struct raster *r = &t->m->census->band[t->band].raster;
	int32_t way = from <= to ? 1 : -1;

	for (int32_t n = from, k = 0; k < SNAP_CHANNELS; n += way, k++) {
		struct freq f = raster_centre(r, n);
		if (landing_nearest(t->m->receiver->landing_base, f, t->step).thirds == f.thirds)
			return f;
		if (n == to)
			break;
	}
	return raster_centre(r, from);
}

/* Snapped to the step inwards, so that nothing beyond the stretch is touched. */
static bool snap(const struct tract *t, int32_t from, int32_t to, struct search *s)
{
	struct freq base = t->m->receiver->landing_base;
	struct freq low = exact(t, from, to), high = exact(t, to, from);
	double rate = t->m->receiver->scan_rate;

	s->low = landing_nearest(base, low, t->step);
	s->high = landing_nearest(base, high, t->step);
	if (s->low.thirds < low.thirds)
		s->low.thirds += t->step.thirds;
	if (s->high.thirds > high.thirds)
		s->high.thirds -= t->step.thirds;
	while (s->high.thirds > s->low.thirds &&
	       scan_sweep_s(s->low, s->high, t->step, rate) > SWEEP_S)
		s->high.thirds -= t->step.thirds;
	return s->high.thirds > s->low.thirds && !landing_forbidden(s->low, s->high);
}

static int add(const struct tract *t, int32_t from, int32_t to)
{
	const struct band *b = &t->m->census->band[t->band];
	const struct interest *of = interests_of(t->m->interests, b->service);
	struct plan *p = t->p;
	int n = t->chance ? 0 : lights(t, from, to);
	struct search s = { .step = t->step, .mode = b->mode, .band = t->band,
			    .weight = of->weight * (n > 0 ? n : 0.5), .chance = t->chance };

	if (!snap(t, from, to, &s))
		return 0;
	s.sweep_s = scan_sweep_s(s.low, s.high, s.step, t->m->receiver->scan_rate);
	if (n > 0)
		snprintf(s.reason, sizeof s.reason,
			 "%d channel%s of %.48s heard, too little to keep one by one", n,
			 n == 1 ? "" : "s", b->name);
	else
		snprintf(s.reason, sizeof s.reason, "%.48s: for what this survey did not show",
			 b->name);
	if (list_room((void **)&p->search, p->searches, sizeof *p->search) < 0)
		return -1;
	p->search[p->searches++] = s;
	return 0;
}

/* The stretch of at most `most` channels with the most to find in it; the lowest
 * such one. */
static int32_t best_start(const struct tract *t, int32_t from, int32_t to)
{
	int32_t best = from;
	int most = -1;

	if (to - from < t->most)
		return from;
	for (int32_t n = from; n + t->most - 1 <= to; n += 1 + t->most / 16) {
		int found = lights(t, n, n + t->most - 1);
		if (found > most) {
			most = found;
			best = n;
		}
	}
	return best;
}

static int add_between(const struct tract *t, int32_t from, int32_t to)
{
	if (to - from < 2 || (!t->chance && lights(t, from, to) == 0))
		return 0;
	int32_t start = best_start(t, from, to);
	int32_t end = start + t->most - 1 < to ? start + t->most - 1 : to;
	return add(t, start, end);
}

/* One stretch between two stops: all with something light in them are searched;
 * on the chance only the longest is. */
static int free_stretch(struct tract *t, int32_t from, int32_t to)
{
	if (!t->chance)
		return add_between(t, from, to);
	if (t->from < 0 || to - from > t->to - t->from) {
		t->from = from;
		t->to = to;
	}
	return 0;
}

/* Ranges of one band, split where something is always on. */
static int band_ranges(struct tract *t)
{
	const struct band *b = &t->m->census->band[t->band];
	const struct raster *r = &b->raster;
	int32_t from = 0;

	for (int32_t n = 0; n <= r->count; n++) {
		bool stop = n == r->count || blocked(t, n) || known(t, n) ||
			    receiver_reach(t->m->receiver, raster_centre(r, n), b->mode) !=
				    t->reach;
		if (!stop)
			continue;
		if (n > from && free_stretch(t, from, n - 1) < 0)
			return -1;
		from = n + 1;
	}
	return t->from >= 0 ? add_between(t, t->from, t->to) : 0;
}

static int by_want(const void *a, const void *b)
{
	const struct search *x = a, *y = b;
	if (x->weight != y->weight)
		return x->weight > y->weight ? -1 : 1;
	return (x->low.thirds > y->low.thirds) - (x->low.thirds < y->low.thirds);
}

int layout_ranges(const struct matter *m, const struct judgement *j, struct plan *p)
{
	const struct receiver *r = m->receiver;
	int room = r->search_ranges - r->ranges_free;

	for (int b = 0; b < m->census->bands; b++) {
		const struct band *band = &m->census->band[b];
		const struct interest *of = interests_of(m->interests, band->service);
		if (of->weight <= 0 || of->role != ROLE_VOICE || band->mode == MODE_NONE)
			continue;
		const struct reach *reach = NULL;
		for (int32_t n = 0; n < band->raster.count && !reach; n++)
			reach = receiver_reach(r, raster_centre(&band->raster, n), band->mode);
		if (!reach)
			continue;
		struct tract t = { .m = m, .j = j, .p = p, .band = b, .reach = reach, .from = -1,
				   .step = landing_step(r, reach, &band->raster) };
		double per_channel = freq_to_hz(band->raster.step) / freq_to_hz(t.step);
		t.most = (int32_t)fmax(
			1, fmin(band->raster.count, SWEEP_S * r->scan_rate / per_channel));
		t.chance = lights(&t, 0, band->raster.count - 1) == 0;
		if (t.chance && of->weight < CHANCE_WEIGHT)
			continue;
		if (band_ranges(&t) < 0)
			return -1;
	}
	if (p->searches > 1)
		qsort(p->search, (size_t)p->searches, sizeof *p->search, by_want);
	if (p->searches > room)
		p->searches = room > 0 ? room : 0;
	return 0;
}
