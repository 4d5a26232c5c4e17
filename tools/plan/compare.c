#include "tools/plan/compare.h"

#include "tools/plan/exact.h"
#include "tools/plan/list.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const names[CHANGE_COUNT] = {
	"none",	      "new", "gone", "busier", "quieter", "kind", "tone", "not enough looked",
	"not looked",
};

const char *change_name(enum change c)
{
	return names[c];
}

/* On for more than half the time: no exchanges to count. */
#define MOSTLY_ON 0.5

/* Looks that could not judge a channel are left out as long as they are fewer. */
#define BLIND 0.2

/* ---- hours that count ---- */

static bool looked_in(const struct census *c, int hour, bool of_week)
{
	for (int b = 0; b < c->bands; b++)
		for (int h = hour; h < WEEK_HOURS; h += of_week ? WEEK_HOURS : DAY_HOURS)
			if (week_state(&c->week[b].cell[h]) != WEEK_NOT_LOOKED)
				return true;
	return false;
}

static void choose_hours(struct comparison *m)
{
	for (int pass = 0; pass < 2 && m->hours == 0; pass++) {
		m->of_week = pass == 0;
		for (int h = 0; h < (m->of_week ? WEEK_HOURS : DAY_HOURS); h++) {
			m->counts[h] = looked_in(m->census[0], h, m->of_week) &&
				       looked_in(m->census[1], h, m->of_week);
			m->hours += m->counts[h];
		}
	}
}

static struct side_view view_of(const struct comparison *m, int which)
{
	return (struct side_view){ m->census[which], m->counts, m->of_week, m->between_s[which] };
}

/* ---- the same channel in the other ---- */

/* The band in each, and the channel. */
struct place {
	int32_t band[2], channel[2];
};

/* -1: it has no such channel. */
static int band_in(const struct census *c, const struct band *of, struct freq centre,
		   int32_t *channel)
{
	for (int b = 0; b < c->bands; b++) {
		if (strcmp(c->band[b].id, of->id) != 0)
			continue;
		*channel = raster_nearest(&c->band[b].raster, centre);
		if (*channel >= 0 &&
		    raster_centre(&c->band[b].raster, *channel).thirds == centre.thirds)
			return b;
	}
	return -1;
}

/* Index into the census's channels, which are by band and channel; -1. */
static int heard_in(const struct census *c, int32_t band, int32_t channel)
{
	int low = 0, high = c->channels;

	while (low < high) {
		int mid = (low + high) / 2;
		const struct channel *ch = &c->channel[mid];
		if (ch->band < band || (ch->band == band && ch->channel < channel))
			low = mid + 1;
		else
			high = mid;
	}
	return low < c->channels && c->channel[low].band == band &&
			       c->channel[low].channel == channel ?
		       low :
		       -1;
}

/* ---- judging ---- */

static struct difference *add(struct comparison *m, const struct difference *d)
{
	if (list_room((void **)&m->of, m->n, sizeof *m->of) < 0)
		return NULL;
	m->of[m->n] = *d;
	return &m->of[m->n++];
}

/* So many in so many hours: given the sum of both, the odds of the second to the first lie between
 * these (Clopper and Pearson 1934). */
static struct interval rate_times(double k1, double t1, double k2, double t2)
{
	double unit = t2 > 0 ? t1 / t2 : 0;

	return (struct interval){
		k2 > 0 ? unit * odds_quantile(k2, k1 + 1, 0.025) : 0,
		k1 > 0 ? unit * odds_quantile(k2 + 1, k1, 0.975) : INFINITY,
	};
}

/* What shows less of a difference is said; of two that show it either way, none: 1 lies between
 * their intervals of 95 % then. */
static void weigh(struct difference *d, double k1, double t1, double k2, double t2)
{
	const struct interval times = rate_times(k1, t1, k2, t2);

	d->p = fmax(d->p, rates_test(k1, t1, k2, t2));
	d->times.low = fmin(d->times.low, times.low);
	d->times.high = fmax(d->times.high, times.high);
	if (d->times.low < 1 && d->times.high > 1)
		d->p = fmax(d->p, 0.05);
}

static double clusters(const struct side *s)
{
	return s->clusters > 0 ? s->clusters : s->openings;
}

/* How much of their looks met it. Few exchanges do not show how uneven they are: what the other
 * survey tells of that holds for both. */
static void shares(struct difference *d, double busy1, double looks1, double busy2, double looks2)
{
	const struct side *a = &d->side[0], *b = &d->side[1];
	double uneven = fmax(1, fmax(a->uneven, b->uneven));
	double k1 = clusters(a) / uneven, k2 = clusters(b) / uneven;

	weigh(d, k1, k1 * looks1 / busy1, k2, k2 * looks2 / busy2);
}

/* A noise that wanders, or a neighbour, covers it so often that what was judged need not be typical:
 * it may have been on all the while. */
static bool mostly_blind(const struct side *s)
{
	return s->blind > BLIND * (s->looks + s->blind);
}

static double hours_of(const struct comparison *m, int which, const struct place *at,
		       double length_s)
{
	const struct side_view v = view_of(m, which);

	return at->band[which] < 0 ? 0 :
				     side_hours(&v, at->band[which], at->channel[which], length_s);
}

/* One met none of it: how many exchanges it would have met, were they as long as they were seen, or
 * as long as they may have been. */
static void absence(const struct comparison *m, struct difference *d, const struct place *at)
{
	const struct side *a = &d->side[0], *b = &d->side[1];
	const struct interval *l = a->busy > 0 ? &a->length_s : &b->length_s;

	for (int most = 0; most < 2; most++) {
		double length_s = most ? l->high : l->low;
		weigh(d, a->exchanges, hours_of(m, 0, at, length_s), b->exchanges,
		      hours_of(m, 1, at, length_s));
	}
}

static double share_of(const struct side *s)
{
	return s->looks > 0 ? s->busy / s->looks : 0;
}

/* Of the looks in the hours that count. Not heard in so many is not the same as off. */
static struct interval share_likely(const struct comparison *m, int which, const struct side *s)
{
	struct looks l = { .looks = llround(s->looks), .pairs = llround(s->pairs) };

	if (s->channel < 0)
		return interval_occupancy(&l);
	l = m->census[which]->channel[s->channel].looks;
	double part = l.looks > 0 ? fmin(1, s->looks / (double)l.looks) : 0;
	l.looks = llround(s->looks);
	l.busy = llround(s->busy);
	l.evidence = llround(s->evidence);
	l.openings = llround(s->openings);
	l.held = llround(part * (double)l.held);
	l.pairs = llround(part * (double)l.pairs);
	l.overs = s->overs;
	return interval_occupancy(&l);
}

/* By its occupancy, where there is nothing to count; p 0 or 1 for "their intervals do not meet". */
static bool mostly_on(const struct comparison *m, struct difference *d)
{
	const struct side *a = &d->side[0], *b = &d->side[1];

	if (share_of(a) <= MOSTLY_ON && share_of(b) <= MOSTLY_ON)
		return false;
	const struct interval i = share_likely(m, 0, a), j = share_likely(m, 1, b);
	d->by_occupancy = true;
	d->p = i.low > j.high || j.low > i.high ? 0 : 1;
	d->times = (struct interval){ j.low / i.high, i.low > 0 ? j.high / i.low : INFINITY };
	return true;
}

/* What would be said of it if the test is passed. */
static void test(struct comparison *m, struct difference *d, const struct place *at)
{
	struct side *a = &d->side[0], *b = &d->side[1];

	m->tests++;
	if (a->channel < 0)
		d->is = CHANGE_NEW;
	else if (b->channel < 0)
		d->is = CHANGE_GONE;
	else
		d->is = share_of(b) > share_of(a) ? CHANGE_BUSIER : CHANGE_QUIETER;
	if (mostly_on(m, d))
		return;
	d->p = 0;
	d->times = (struct interval){ INFINITY, 0 };
	if (a->busy > 0 && b->busy > 0)
		shares(d, a->busy, a->looks, b->busy, b->looks);
	else
		absence(m, d, at);
	/* Who comes in stronger, or weaker than the squelch, need not be on for any longer. */
	if (a->evidence > 0 && b->evidence > 0)
		shares(d, a->evidence, a->looks, b->evidence, b->looks);
	if (mostly_blind(a) || mostly_blind(b))
		shares(d, a->busy + a->blind, a->looks + a->blind, b->busy + b->blind,
		       b->looks + b->blind);
}

/* Both know what it is, and not the same. */
static int other_traits(struct comparison *m, const struct difference *d)
{
	struct difference t = *d;
	const struct channel *x = &m->census[0]->channel[d->side[0].channel];
	const struct channel *y = &m->census[1]->channel[d->side[1].channel];
	int32_t was = nature_tone_ddhz(&x->nature), now = nature_tone_ddhz(&y->nature);

	t.p = 1;
	t.by_occupancy = false;
	if (x->kind != KIND_UNKNOWN && y->kind != KIND_UNKNOWN && x->kind != y->kind) {
		t.is = CHANGE_KIND;
		snprintf(t.was, sizeof t.was, "%s", kind_name(x->kind));
		snprintf(t.now, sizeof t.now, "%s", kind_name(y->kind));
		if (!add(m, &t))
			return -1;
	}
	/* Tones are told apart to half a per cent (EIA/TIA-603 has them 3 % apart; from memory). */
	if (was && now && fabs((double)(was - now)) > 0.01 * was) {
		t.is = CHANGE_TONE;
		snprintf(t.was, sizeof t.was, "%.1f Hz", 0.1 * was);
		snprintf(t.now, sizeof t.now, "%.1f Hz", 0.1 * now);
		if (!add(m, &t))
			return -1;
	}
	return 0;
}

/* The hours in which each would have met an exchange, as long as the one says that knows it better. */
static void fill_hours(const struct comparison *m, struct difference *d, const struct place *at)
{
	const struct interval *x = &d->side[0].length_s, *y = &d->side[1].length_s;
	bool first = d->side[1].overs == 0 ||
		     (d->side[0].overs > 0 && x->high - x->low <= y->high - y->low);
	const struct interval *l = first ? x : y;

	for (int k = 0; k < 2; k++)
		d->side[k].hours = hours_of(m, k, at, (l->low + l->high) / 2);
}

static void measure(const struct comparison *m, int which, const struct place *at, int channel,
		    struct side *out)
{
	const struct side_view v = view_of(m, which);

	out->channel = -1;
	if (at->band[which] >= 0)
		side_measure(&v, at->band[which], at->channel[which], channel, out);
}

/* A channel that side which heard. */
static int look_at(struct comparison *m, int which, int heard)
{
	const struct census *mine = m->census[which], *others = m->census[!which];
	const struct channel *ch = &mine->channel[heard];
	struct difference d = {
		.centre = ch->centre, .band = ch->band, .second = which == 1, .p = 1
	};
	struct place at = { 0 };

	at.band[which] = ch->band;
	at.channel[which] = ch->channel;
	at.band[!which] = band_in(others, &mine->band[ch->band], ch->centre, &at.channel[!which]);
	int there =
		at.band[!which] < 0 ? -1 : heard_in(others, at.band[!which], at.channel[!which]);
	if (which == 1 && there >= 0)
		return 0;               /* told when the first was gone through */
	measure(m, which, &at, heard, &d.side[which]);
	measure(m, !which, &at, there, &d.side[!which]);
	fill_hours(m, &d, &at);
	bool elsewhen =
		there < 0 && d.side[which].overs == 0 && share_of(&d.side[which]) <= MOSTLY_ON;
	if (d.side[0].looks <= 0 || d.side[1].looks <= 0 || elsewhen)
		d.is = CHANGE_NOT_LOOKED;
	else
		test(m, &d, &at);
	if (!add(m, &d))
		return -1;
	return there >= 0 ? other_traits(m, &d) : 0;
}

static int by_p(const void *a, const void *b)
{
	const struct difference *x = a, *y = b;
	return (x->p > y->p) - (x->p < y->p);
}

static int by_change(const void *a, const void *b)
{
	const struct difference *x = a, *y = b;

	if (x->is != y->is)     /* those that are alike last */
		return x->is == CHANGE_NONE ? 1 :
		       y->is == CHANGE_NONE ? -1 :
					      (int)x->is - (int)y->is;
	return (x->centre.thirds > y->centre.thirds) - (x->centre.thirds < y->centre.thirds);
}

static bool is_tested(const struct difference *d)
{
	return d->is >= CHANGE_NEW && d->is <= CHANGE_QUIETER;
}

/* Holm: from the least p on, until one is not small enough; what follows is not shown. */
static void hold_against(struct comparison *m)
{
	int left = m->tests;
	bool shown = true;

	if (m->n)
		qsort(m->of, (size_t)m->n, sizeof *m->of, by_p);
	for (int i = 0; i < m->n; i++) {
		struct difference *d = &m->of[i];
		if (!is_tested(d))
			continue;
		shown = shown && d->p < COMPARE_P / left--;
		if (shown)
			continue;
		d->is = d->side[0].channel < 0 || d->side[1].channel < 0 ? CHANGE_OPEN :
									   CHANGE_NONE;
	}
	for (int i = 0; i < m->n; i++)
		m->alike += m->of[i].is == CHANGE_NONE;
	if (m->n)
		qsort(m->of, (size_t)m->n, sizeof *m->of, by_change);
	m->n -= m->alike;
}

int compare(const struct census *first, const struct census *second, struct comparison *out)
{
	*out = (struct comparison){ .census = { first, second } };
	choose_hours(out);
	for (int k = 0; k < 2; k++)
		out->between_s[k] = side_between_s(out->census[k]);
	for (int which = 0; which < 2; which++)
		for (int i = 0; i < out->census[which]->channels; i++)
			if (look_at(out, which, i) < 0) {
				comparison_free(out);
				return -1;
			}
	hold_against(out);
	return 0;
}

void comparison_free(struct comparison *c)
{
	free(c->of);
	c->of = NULL;
	c->n = 0;
}
