#include "tools/plan/ranges.h"

#include "tools/plan/list.h"
#include "tools/plan/occupancy.h"
#include "tools/plan/scan.h"
#include "tools/plan/stretches.h"
#include "tools/plan/unknown.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define MICRO 1e6               /* worth is reckoned in millionths: whole numbers */

/* One band as far as one stretch of the coverage reaches: places at .. at + steps of the row. */
struct ground {
	int         band;
	struct freq low, step;
	int32_t     at, steps;
};

/* What lies on a step. */
struct spot {
	double chance;                  /* channels without a memory that will talk, expected */
	int    lights, stops;           /* heard too little to keep; heard well               */
	bool   channel;                 /* a channel of the raster is nearest to it           */
};

struct field {
	const struct matter    *m;
	const struct judgement *j;
	const struct plan      *p;
	struct ground          *ground;
	int                     grounds;
	struct place           *place;  /* a stop behind each ground */
	struct spot            *spot;
	int32_t                 places;
};

double ranges_chance(double a, int n, double watched_h)
{
	double h = 1 + watched_h;

	return 1 - pow(h / (h + SEARCH_HOURS), a + n);
}

static struct freq step_at(const struct ground *g, int32_t i)
{
	return (struct freq){ g->low.thirds + i * g->step.thirds };
}

/* ---- the row ---- */

static int add_ground(struct field *f, int band, const struct reach *reach)
{
	const struct raster *raster = &f->m->census->band[band].raster;
	struct freq base = f->m->receiver->landing_base;
	int64_t low = raster->first.thirds, high = raster_last(raster).thirds;
	struct ground g = { .band = band, .at = f->places,
			    .step = landing_step(f->m->receiver, reach, raster) };

	low = low > reach->low.thirds ? low : reach->low.thirds;
	high = high < reach->high.thirds ? high : reach->high.thirds;
	if (low > high)
		return 0;
	g.low = landing_nearest(base, (struct freq){ low }, g.step);
	if (g.low.thirds < low)
		g.low.thirds += g.step.thirds;
	if (g.low.thirds > high)
		return 0;
	g.steps = (int32_t)((high - g.low.thirds) / g.step.thirds) + 1;
	if (list_room((void **)&f->ground, f->grounds, sizeof *f->ground) < 0)
		return -1;
	f->ground[f->grounds++] = g;
	f->places += g.steps + 1;
	return 0;
}

static int lay_out(struct field *f)
{
	const struct census *c = f->m->census;

	for (int b = 0; b < c->bands; b++) {
		const struct interest *of = interests_of(f->m->interests, c->band[b].service);
		if (of->weight <= 0 || of->role != ROLE_VOICE || c->band[b].mode == MODE_NONE)
			continue;
		for (int i = 0; i < f->m->receiver->reaches; i++) {
			const struct reach *reach = &f->m->receiver->reach[i];
			if ((reach->modes >> c->band[b].mode & 1) && reach->steps > 0 &&
			    add_ground(f, b, reach) < 0)
				return -1;
		}
	}
	f->place = calloc((size_t)f->places + 1, sizeof *f->place);
	f->spot = calloc((size_t)f->places + 1, sizeof *f->spot);
	return f->place && f->spot ? 0 : -1;
}

/* ---- what is there ---- */

static double watched_h(const struct matter *m, int band, int32_t channel)
{
	const struct census *c = m->census;
	const struct looked *l = &c->looked[band];

	if (l->looks <= 0 || unknown_by_day(c, band) || unknown_deaf(c, m->suspect, band))
		return 0;
	double look_s = 1e-6 * (double)l->looked_us / (double)l->looks;
	double every_s = l->revisit_s > 0 ? l->revisit_s : look_s;
	return (double)l->of_channel[channel] * every_s *
	       occupancy_seen(OCCUPANCY_OVER_S, look_s, every_s) / 3600;
}

/* Of channels no narrower than an emission; on a finer raster each is only part of one. */
static double share_in_use(const struct matter *m, int band)
{
	const struct band *b = &m->census->band[band];
	double part = fmin(1, freq_to_hz(b->raster.step) / fmax(1, b->width_hz)), heard = 0;

	for (int i = 0; i < m->census->channels; i++)
		heard += m->census->channel[i].band == band && !suspicion_false(m->suspect[i].is);
	return part * (CHANNELS_USED + heard) / (CHANNELS_MET + part * b->raster.count);
}

/* Pinned, and never heard: it has a memory all the same. */
static bool pinned_there(const struct plan *p, struct freq at)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].channel < 0 && p->memory[i].frequency.thirds == at.thirds)
			return true;
	return false;
}

/* Index into the census of the band's channel n, looked for from *i on; -1: not heard. */
static int heard_as(const struct census *c, int band, int32_t n, int *i)
{
	while (*i < c->channels && (c->channel[*i].band < band ||
				    (c->channel[*i].band == band && c->channel[*i].channel < n)))
		(*i)++;
	bool is = *i < c->channels && c->channel[*i].band == band && c->channel[*i].channel == n;
	return is ? *i : -1;
}

static void put_heard(const struct field *f, int i, double a, double weight, int32_t at)
{
	const struct channel *ch = &f->m->census->channel[i];
	struct spot *s = &f->spot[at];

	if (f->j[i].light && f->j[i].fate == FATE_LEAVE) {
		double watched = watched_h(f->m, ch->band, ch->channel);
		double chance = ranges_chance(a, ch->exchanges, watched);
		s->chance += chance;
		s->lights++;
		f->place[at].worth += llround(MICRO * weight * chance);
	} else if (!suspicion_false(f->m->suspect[i].is)) {
		s->stops++;
		f->place[at].worth -= llround(MICRO * SWEEP_PRICE * SWEEP_S * ch->occupancy);
	}
}

/* Each channel is on the step nearest to it. */
static void put_channels(const struct field *f, const struct ground *g)
{
	const struct band *b = &f->m->census->band[g->band];
	double weight = interests_of(f->m->interests, b->service)->weight;
	double a = share_in_use(f->m, g->band);
	int from = 0;

	for (int32_t n = 0; n < b->raster.count; n++) {
		struct freq centre = raster_centre(&b->raster, n);
		struct freq on = landing_nearest(f->m->receiver->landing_base, centre, g->step);
		int64_t k = (on.thirds - g->low.thirds) / g->step.thirds;
		int i = heard_as(f->m->census, g->band, n, &from);
		if (on.thirds < g->low.thirds || k >= g->steps)
			continue;
		int32_t at = g->at + (int32_t)k;
		f->spot[at].channel = true;
		f->place[at].limit |= on.thirds == centre.thirds;
		if (i >= 0) {
			put_heard(f, i, a, weight, at);
		} else if (!interests_never(f->m->interests, centre) &&
			   !pinned_there(f->p, centre)) {
			double chance = ranges_chance(a, 0, watched_h(f->m, g->band, n));
			f->spot[at].chance += chance;
			f->place[at].worth += llround(MICRO * weight * chance);
		}
	}
}

/* No search goes so near to it: from the steps that are farther off. */
static void keep_off(const struct field *f, const struct ground *g, double hz, double width_hz)
{
	double step = freq_to_hz(g->step);
	double guard = width_hz / 2 + step + freq_to_hz(f->m->census->band[g->band].raster.step);
	double low = (hz - guard - freq_to_hz(g->low)) / step, high = low + 2 * guard / step;

	for (int32_t i = (int32_t)fmax(0, ceil(low - 1e-9)); i < g->steps && i <= high + 1e-9; i++)
		f->place[g->at + i].stop = true;
}

static void put_stops(const struct field *f, const struct ground *g)
{
	const struct census *c = f->m->census;
	const struct receiver *r = f->m->receiver;

	for (int i = 0; i < c->channels; i++)
		if (c->channel[i].occupancy > CONTINUOUS_SHARE)
			keep_off(
				f, g, channel_hz(&c->channel[i]),
				fmax(c->channel[i].width_hz, c->band[c->channel[i].band].width_hz));
	for (int i = 0; i < r->birdies; i++)
		keep_off(f, g, freq_to_hz(r->birdie[i]), r->filter_hz[c->band[g->band].mode]);
	for (int32_t i = 0; i < g->steps; i++)
		f->place[g->at + i].stop |= landing_forbidden(step_at(g, i), step_at(g, i));
}

static void fill(const struct field *f, const struct ground *g)
{
	const struct raster *raster = &f->m->census->band[g->band].raster;
	int64_t price = llround(MICRO * SWEEP_PRICE / f->m->receiver->scan_rate);
	bool exact = false;

	put_channels(f, g);
	put_stops(f, g);
	for (int32_t i = 0; i < g->steps; i++)
		exact |= f->place[g->at + i].limit;
	for (int32_t i = 0; i < g->steps; i++) {
		struct place *at = &f->place[g->at + i];
		at->worth -= price;
		at->least =
			(int32_t)((2 * raster->step.thirds + g->step.thirds - 1) / g->step.thirds) +
			1;
		at->limit |= !exact && f->spot[g->at + i].channel;
	}
	f->place[g->at + g->steps].stop = true;
}

/* ---- the ranges ---- */

/* Between how many of the channels will talk, each with its own chance, 95 %: the exact sum of
 * them all (Poisson's binomial). */
static void bounds(const struct spot *s, int32_t n, int *low, int *high)
{
	double p[(int)SWEEP_S * 500 + 2], below = 0;        /* p[k]: k of those so far */
	int most = 0;

	p[0] = 1;
	for (int32_t i = 0; i < n; i++) {
		double q = fmin(1, s[i].chance);
		if (q <= 0)
			continue;
		p[++most] = 0;
		for (int k = most; k > 0; k--)
			p[k] = p[k] * (1 - q) + p[k - 1] * q;
		p[0] *= 1 - q;
	}
	*low = *high = 0;
	for (int k = 0; k <= most; k++) {
		if (below < 0.025)
			*low = k;
		if (below < 0.975)
			*high = k;
		below += p[k];
	}
}

static void reason_of(const struct matter *m, struct search *s)
{
	const struct census *c = m->census;
	const struct band *b = &c->band[s->band];
	char why[140], from[60] = "";

	if (s->lights > 0)
		snprintf(why, sizeof why,
			 "%d channel%s of %.48s heard, too little to keep one by one", s->lights,
			 s->lights == 1 ? "" : "s", b->name);
	else if (unknown_by_day(c, s->band))
		snprintf(why, sizeof why, "%.48s: not known by day", b->name);
	else if (unknown_deaf(c, m->suspect, s->band))
		snprintf(why, sizeof why, "%.48s: not known, for the survey was deaf there",
			 b->name);
	else
		snprintf(why, sizeof why, "%.48s: for what this survey did not show", b->name);
	if (s->stops > 0)
		snprintf(from, sizeof from, "; it stops at %d known channel%s, too", s->stops,
			 s->stops == 1 ? "" : "s");
	snprintf(s->reason, sizeof s->reason,
		 "%s; about %.*f (%d to %d) that have no memory may talk there "
		 "in %.0f h%s",
		 why, s->expected < 9.95, s->expected, s->expected_low, s->expected_high,
		 SEARCH_HOURS, from);
}

static struct search search_of(const struct field *f, const struct stretch *of)
{
	const struct ground *g = f->ground;
	double rate = f->m->receiver->scan_rate;

	while (of->from >= g->at + g->steps)
		g++;
	struct search s = { .low = step_at(g, of->from - g->at), .high = step_at(g, of->to - g->at),
			    .step = g->step, .band = g->band,
			    .mode = f->m->census->band[g->band].mode,
			    .worth = (double)of->worth / MICRO };
	s.sweep_s = scan_sweep_s(s.low, s.high, s.step, rate);
	for (int32_t i = of->from; i <= of->to; i++) {
		s.lights += f->spot[i].lights;
		s.stops += f->spot[i].stops;
		s.expected += f->spot[i].chance;
	}
	bounds(&f->spot[of->from], of->to - of->from + 1, &s.expected_low, &s.expected_high);
	reason_of(f->m, &s);
	return s;
}

static int by_worth(const void *a, const void *b)
{
	const struct search *x = a, *y = b;
	if (x->worth != y->worth)
		return x->worth > y->worth ? -1 : 1;
	return (x->low.thirds > y->low.thirds) - (x->low.thirds < y->low.thirds);
}

int ranges_find(const struct matter *m, const struct judgement *j, struct plan *p)
{
	const struct receiver *r = m->receiver;
	int room = r->search_ranges > r->ranges_free ? r->search_ranges - r->ranges_free : 0;
	room = room < RANGES_MOST ? room : RANGES_MOST;
	struct field f = { .m = m, .j = j, .p = p };
	struct stretch *best = calloc((size_t)room + 1, sizeof *best);
	int found = -1;

	if (!best || lay_out(&f) < 0)
		goto out;
	for (int g = 0; g < f.grounds; g++)
		fill(&f, &f.ground[g]);
	int32_t longest = (int32_t)floor(SWEEP_S * r->scan_rate + 1e-9);
	found = stretches_best(f.place, f.places, longest, llround(MICRO * RANGE_PRICE), room,
			       best);
	for (int i = 0; i < found; i++) {
		if (list_room((void **)&p->search, p->searches, sizeof *p->search) < 0) {
			found = -1;
			break;
		}
		p->search[p->searches++] = search_of(&f, &best[i]);
	}
	if (p->searches > 1)
		qsort(p->search, (size_t)p->searches, sizeof *p->search, by_worth);
out:
	free(best);
	free(f.ground);
	free(f.place);
	free(f.spot);
	return found < 0 ? -1 : 0;
}
