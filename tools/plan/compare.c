#include "tools/plan/compare.h"

#include "tools/plan/exact.h"
#include "tools/plan/list.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const names[CHANGE_COUNT] = {
	"none", "new", "gone", "busier", "quieter", "kind", "tone", "not enough looked", "not looked",
};

const char *change_name(enum change c)
{
	return names[c];
}

/* On for more than half the time: no exchanges to count. */
#define MOSTLY_ON 0.5

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

static bool counted(const struct comparison *m, int hour)
{
	return m->counts[m->of_week ? hour : hour % DAY_HOURS];
}

/* Exchanges of a channel that began in hours that count, and their mean length. */
static int exchanges(const struct comparison *m, const struct census *c, const struct channel *ch,
		     double *length_s)
{
	int n = 0, all = 0;
	double sum = 0;

	for (int i = 0; i < ch->overs; i++) {
		const struct over *o = &c->over[ch->over + i];
		double silent = i ? 1e-6 * (double)(o->first_us - o[-1].last_us) : INFINITY;
		double slack = i ? 1e-6 * (double)(o->before_us + o[-1].after_us) : 0;
		bool begins = silent - slack >= EXCHANGE_S;
		n += begins && counted(m, week_hour(census_local_us(c, o->first_us)));
		all += begins;
		sum += begins ? ch->over_s : 1e-6 * (double)(o->last_us - o[-1].last_us);
	}
	*length_s = all > 0 ? sum / all : 0;
	return n;
}

/* How much of a band's looking was in hours that count. */
static double share_counted(const struct comparison *m, const struct week *w)
{
	double all = 0, in = 0;

	for (int h = 0; h < WEEK_HOURS; h++) {
		all += w->cell[h].looked_us;
		in += counted(m, h) ? w->cell[h].looked_us : 0;
	}
	return all > 0 ? in / all : 0;
}

/* Hours of the channel in which an exchange of that length would have been seen. */
static double hours_seen(const struct comparison *m, int which, int32_t band, int32_t channel,
			 double length_s)
{
	const struct census *c = m->census[which];
	const struct looked *l = &c->looked[band];
	double looks = (double)l->of_channel[channel];

	if (l->looks <= 0 || looks <= 0)
		return 0;
	double look_s = 1e-6 * (double)l->looked_us / (double)l->looks;
	double each = fmin(length_s + look_s, l->revisit_s > 0 ? l->revisit_s : look_s);
	return looks * each * share_counted(m, &c->week[band]) / 3600;
}

/* ---- the same channel in the other ---- */

/* -1: it has no such channel. */
static int band_in(const struct census *c, const struct band *of, struct freq centre, int32_t *channel)
{
	for (int b = 0; b < c->bands; b++) {
		if (strcmp(c->band[b].id, of->id) != 0)
			continue;
		*channel = raster_nearest(&c->band[b].raster, centre);
		if (*channel >= 0 && raster_centre(&c->band[b].raster, *channel).thirds == centre.thirds)
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
	return low < c->channels && c->channel[low].band == band && c->channel[low].channel == channel ?
		       low : -1;
}

/* ---- judging ---- */

static struct difference *add(struct comparison *m, const struct difference *d)
{
	if (list_room((void **)&m->of, m->n, sizeof *m->of) < 0)
		return NULL;
	m->of[m->n] = *d;
	return &m->of[m->n++];
}

/* Given k1 + k2 in all, the odds of the second to the first lie between these
 * (Clopper and Pearson 1934). */
static struct interval rate_times(const struct side *a, const struct side *b)
{
	double k1 = a->exchanges, k2 = b->exchanges, unit = b->hours > 0 ? a->hours / b->hours : 0;

	return (struct interval){
		k2 > 0 ? unit * odds_quantile(k2, k1 + 1, 0.025) : 0,
		k1 > 0 ? unit * odds_quantile(k2 + 1, k1, 0.975) : INFINITY,
	};
}

/* By its occupancy, where there is nothing to count; p 0 or 1 for "their intervals do not meet". */
static bool mostly_on(const struct comparison *m, struct difference *d)
{
	const struct channel *x = d->side[0].channel < 0 ? NULL : &m->census[0]->channel[d->side[0].channel];
	const struct channel *y = d->side[1].channel < 0 ? NULL : &m->census[1]->channel[d->side[1].channel];
	const struct interval never = { 0, 0 };
	const struct interval *i = x ? &x->likely : &never, *j = y ? &y->likely : &never;

	if (!(x && x->occupancy > MOSTLY_ON) && !(y && y->occupancy > MOSTLY_ON))
		return false;
	d->p = i->low > j->high || j->low > i->high ? 0 : 1;
	d->times = (struct interval){ 0, INFINITY };
	if (x && i->high > 0)
		d->times = (struct interval){ j->low / i->high, i->low > 0 ? j->high / i->low : INFINITY };
	d->is = !x ? CHANGE_NEW : !y ? CHANGE_GONE :
		x->occupancy < y->occupancy ? CHANGE_BUSIER : CHANGE_QUIETER;
	return true;
}

/* What would be said of it if the test is passed. */
static void test(struct comparison *m, struct difference *d)
{
	struct side *a = &d->side[0], *b = &d->side[1];

	m->tests++;
	if (mostly_on(m, d))
		return;
	d->p = rates_test(a->exchanges, a->hours, b->exchanges, b->hours);
	d->times = rate_times(a, b);
	if (a->channel < 0)
		d->is = CHANGE_NEW;
	else if (b->channel < 0)
		d->is = CHANGE_GONE;
	else
		d->is = b->exchanges * a->hours > a->exchanges * b->hours ? CHANGE_BUSIER : CHANGE_QUIETER;
}

/* Both know what it is, and not the same. */
static int other_traits(struct comparison *m, const struct difference *d)
{
	struct difference t = *d;
	const struct channel *x = &m->census[0]->channel[d->side[0].channel];
	const struct channel *y = &m->census[1]->channel[d->side[1].channel];
	int32_t was = nature_tone_ddhz(&x->nature), now = nature_tone_ddhz(&y->nature);

	t.p = 1;
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

/* A channel that side which heard. */
static int look_at(struct comparison *m, int which, int at)
{
	const struct census *mine = m->census[which], *others = m->census[!which];
	const struct channel *ch = &mine->channel[at];
	struct difference d = { .centre = ch->centre, .band = ch->band, .second = which == 1, .p = 1 };
	int32_t channel = 0;
	double length_s, other_s;

	int band = band_in(others, &mine->band[ch->band], ch->centre, &channel);
	int there = band < 0 ? -1 : heard_in(others, band, channel);
	if (which == 1 && there >= 0)
		return 0;               /* told when the first was gone through */
	d.side[which] = (struct side){ .channel = at, .exchanges = exchanges(m, mine, ch, &length_s) };
	d.side[!which].channel = there;
	if (there >= 0) {
		d.side[!which].exchanges = exchanges(m, others, &others->channel[there], &other_s);
		/* Who looks seldom takes overs for longer. */
		if (others->looked[band].revisit_s < mine->looked[ch->band].revisit_s)
			length_s = other_s;
	}
	d.side[which].hours = hours_seen(m, which, ch->band, ch->channel, length_s);
	d.side[!which].hours = band < 0 ? 0 : hours_seen(m, !which, band, channel, length_s);
	bool elsewhen = there < 0 && d.side[which].exchanges == 0 && ch->occupancy <= MOSTLY_ON;
	if (d.side[0].hours <= 0 || d.side[1].hours <= 0 || elsewhen)
		d.is = CHANGE_NOT_LOOKED;
	else
		test(m, &d);
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

	if (x->is != y->is)
		return (int)x->is - (int)y->is;
	return (x->centre.thirds > y->centre.thirds) - (x->centre.thirds < y->centre.thirds);
}

static bool is_tested(const struct difference *d)
{
	return d->is >= CHANGE_NEW && d->is <= CHANGE_QUIETER;
}

/* Holm: from the least p on, until one is not small enough; what follows is not shown. */
static void hold_against(struct comparison *m)
{
	int left = m->tests, n = 0;
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
		d->is = d->side[0].channel < 0 || d->side[1].channel < 0 ? CHANGE_OPEN : CHANGE_NONE;
	}
	for (int i = 0; i < m->n; i++)
		if (m->of[i].is == CHANGE_NONE)
			m->alike++;
		else
			m->of[n++] = m->of[i];
	m->n = n;
	if (n)
		qsort(m->of, (size_t)n, sizeof *m->of, by_change);
}

int compare(const struct census *first, const struct census *second, struct comparison *out)
{
	*out = (struct comparison){ .census = { first, second } };
	choose_hours(out);
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
