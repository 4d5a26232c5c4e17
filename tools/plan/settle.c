#include "tools/plan/census.h"

#include "tools/plan/glimpses.h"
#include "tools/plan/list.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A neighbour is much busier with so many times the overs. */
#define MUCH_BUSIER 3

/* The centroid of one emission may stray to the next channel of a fine raster
 * for a look or two while the over goes on; more looks than this at the same
 * time are two emissions. */
#define STRAY_LOOKS 2

static int by_channel_and_time(const void *a, const void *b)
{
	const struct over *x = a, *y = b;
	if (x->band != y->band)
		return x->band < y->band ? -1 : 1;
	if (x->channel != y->channel)
		return x->channel < y->channel ? -1 : 1;
	if (x->first_us != y->first_us)
		return x->first_us < y->first_us ? -1 : 1;
	return (x->last_us > y->last_us) - (x->last_us < y->last_us);
}

/* As a survey tells them they mostly are, and many take long to sort. */
static void sort_overs(struct census *c)
{
	for (int i = 1; i < c->overs; i++)
		if (by_channel_and_time(&c->over[i - 1], &c->over[i]) > 0) {
			qsort(c->over, (size_t)c->overs, sizeof *c->over, by_channel_and_time);
			return;
		}
}

/* Where each channel's overs begin. */
static void index_overs(struct census *c)
{
	int o = 0;

	for (int i = 0; i < c->channels; i++) {
		struct channel *ch = &c->channel[i];
		ch->over = o;
		while (o < c->overs && c->over[o].band == ch->band &&
		       c->over[o].channel == ch->channel)
			o++;
		ch->overs = o - ch->over;
	}
}

static double median_of(const struct census *c, const struct channel *ch, double *work,
			size_t field)
{
	for (int i = 0; i < ch->overs; i++) {
		int32_t v;
		memcpy(&v, (const char *)&c->over[ch->over + i] + field, sizeof v);
		work[i] = v;
	}
	list_sort_whole(work, ch->overs);
	return list_quantile(work, ch->overs, 0.5);
}

/* Both on at once, for longer than a stray look. */
static bool coexist(const struct census *c, const struct channel *a, const struct channel *b)
{
	for (int i = 0, j = 0; i < a->overs && j < b->overs; ) {
		const struct over *x = &c->over[a->over + i], *y = &c->over[b->over + j];
		if (x->last_us >= y->first_us && y->last_us >= x->first_us &&
		    x->looks > STRAY_LOOKS)
			return true;
		if (x->last_us < y->last_us)
			i++;
		else
			j++;
	}
	return false;
}

/* Every over of the lesser lies within half an emission of the other. */
static bool within(const struct census *c, const struct channel *lesser, const struct channel *of,
		   double *work)
{
	double width = median_of(c, of, work, offsetof(struct over, width_hz));
	double at =
		freq_to_hz(of->centre) + median_of(c, of, work, offsetof(struct over, offset_hz));

	for (int i = 0; i < lesser->overs; i++)
		if (fabs(freq_to_hz(lesser->centre) + c->over[lesser->over + i].offset_hz - at) >
		    width / 2)
			return false;
	return true;
}

/* The channel that ch's emissions really belong to, or -1: the busiest that fits. */
static int owner_of(const struct census *c, int i, double *work)
{
	const struct channel *ch = &c->channel[i];
	const struct band *b = &c->band[ch->band];
	double reach = fmax(b->width_hz, freq_to_hz(b->raster.step));
	int best = -1;

	for (int side = -1; side <= 1; side += 2) {
		for (int j = i + side; j >= 0 && j < c->channels; j += side) {
			const struct channel *of = &c->channel[j];
			if (of->band != ch->band ||
			    fabs(freq_to_hz(of->centre) - freq_to_hz(ch->centre)) > reach)
				break;
			if (ch->overs > 0 && of->overs >= MUCH_BUSIER * ch->overs &&
			    (best < 0 || of->overs > c->channel[best].overs) &&
			    within(c, ch, of, work) && !coexist(c, ch, of))
				best = j;
		}
	}
	return best;
}

static void give(struct census *c, int from, int to)
{
	struct channel *a = &c->channel[from], *b = &c->channel[to];
	int32_t shift = (int32_t)lround(freq_to_hz(a->centre) - freq_to_hz(b->centre));

	for (int i = 0; i < a->overs; i++) {
		struct over *o = &c->over[a->over + i];
		o->channel = b->channel;
		o->offset_hz += shift;
	}
	b->looks.busy += a->looks.busy;
	b->looks.evidence += a->looks.evidence;
	b->looks.held += a->looks.held;
	b->looks.openings += a->looks.openings;
	b->busy_us += a->busy_us;
	a->overs = -1;          /* folded away */
}

/* What the looks showed hour by hour goes along; who cannot be judged is the neighbour. */
static void give_accounts(struct census *c, const int *owner)
{
	int i = 0;

	for (int k = 0; k < c->accounts; k++) {
		struct account *a = &c->account[k];
		while (i < c->channels && (c->channel[i].band < a->band ||
			(c->channel[i].band == a->band && c->channel[i].channel < a->channel)))
			i++;
		if (i == c->channels || c->channel[i].band != a->band ||
		    c->channel[i].channel != a->channel || owner[i] < 0)
			continue;
		a->channel = c->channel[owner[i]].channel;
		a->blind = 0;
	}
	accounts_sort(c->account, c->accounts);
}

static int fold(struct census *c, double *work, int *owner)
{
	for (int i = 0; i < c->channels; i++)
		owner[i] = owner_of(c, i, work);
	for (int i = 0; i < c->channels; i++) {
		while (owner[i] >= 0 && owner[owner[i]] >= 0)   /* each owner is busier: it ends */
			owner[i] = owner[owner[i]];
		if (owner[i] >= 0)
			give(c, i, owner[i]);
	}
	give_accounts(c, owner);
	int n = 0;
	for (int i = 0; i < c->channels; i++)
		if (c->channel[i].overs >= 0)
			c->channel[n++] = c->channel[i];
	int gone = c->channels - n;
	c->channels = n;
	sort_overs(c);
	index_overs(c);
	return gone;
}

/* ---- measuring ---- */

static void levels(const struct census *c, struct channel *ch, double *work)
{
	const struct over *o = &c->over[ch->over];
	int n = ch->overs;

	ch->level_db = 0.1 * median_of(c, ch, work, offsetof(struct over, level_ddb));
	ch->strong_db = 0.1 * list_quantile(work, n, 0.75);
	/* The quarters of a normal distribution lie 1.349 deviations apart. */
	ch->spread_db = 0.1 * (list_quantile(work, n, 0.75) - list_quantile(work, n, 0.25)) / 1.349;
	ch->peak_db = 0;
	for (int i = 0; i < n; i++)
		ch->peak_db = fmax(ch->peak_db, 0.1 * o[i].peak_ddb);
	ch->width_hz = median_of(c, ch, work, offsetof(struct over, width_hz));
	ch->offset_hz = median_of(c, ch, work, offsetof(struct over, offset_hz));
	ch->offset_spread_hz = list_quantile(work, n, 0.9) - list_quantile(work, n, 0.1);
}

static int64_t length_us(const struct over *o)
{
	return o->last_us - o->first_us + (o->before_us + o->after_us) / 2;
}

#define SEEN_OVERS 8            /* so many lengths are enough */
#define SEEN_GAPS 5             /* so many gaps */

/* What sweeps meet are long overs rather than short ones, with ends that lie far
 * out. One whose beginning was seen is as likely short as long, wherever it ends. */
static void lengths(const struct census *c, struct channel *ch)
{
	const struct over *o = &c->over[ch->over];
	double all = 0, begun = 0;
	int n = 0;

	ch->longest_s = 0;
	for (int i = 0; i < ch->overs; i++) {
		double s = 1e-6 * (double)length_us(&o[i]);
		ch->longest_s = fmax(ch->longest_s, s);
		all += s;
		if (edge_seen(o[i].before_us) && o[i].after_us >= 0) {
			begun += s;
			n++;
		}
	}
	ch->over_s = n >= SEEN_OVERS ? begun / n : ch->overs > 0 ? all / ch->overs : 0;
}

/* Gaps inside exchanges. Those that were seen to begin are alike short or long, so
 * where there are enough they are it, though the next over was found by a sweep. */
static void gaps(const struct census *c, struct channel *ch, double *gap)
{
	const struct over *o = &c->over[ch->over];
	int n = 0, from_seen = 0;

	for (int pass = 0; pass < 2 && from_seen < SEEN_GAPS; pass++) {
		n = 0;
		for (int i = 1; i < ch->overs; i++) {
			double silent = 1e-6 * (double)(o[i].first_us - o[i - 1].last_us);
			double slack = 1e-6 * (double)(o[i].before_us + o[i - 1].after_us);
			bool known =
				pass == 0 ? edge_seen(o[i - 1].after_us) && slack < EXCHANGE_S / 2 :
					    slack < 1;
			if (silent < EXCHANGE_S && known)
				gap[n++] = silent + slack / 2;
		}
		from_seen = pass == 0 ? n : 0;
	}
	ch->gap_s = n >= SEEN_GAPS ? list_quantile(gap, n, 0.85) : 0;
}

/* Exchanges, and what they would keep a receiver for: themselves and two seconds. */
static void talk(const struct census *c, struct channel *ch)
{
	const struct over *o = &c->over[ch->over];
	int64_t began = 0, hour = INT64_MIN, hold = 0, most = 0;

	ch->exchanges = 0;
	for (int i = 0; i < ch->overs; i++) {
		double silent = i ? 1e-6 * (double)(o[i].first_us - o[i - 1].last_us) : INFINITY;
		double slack = i ? 1e-6 * (double)(o[i].before_us + o[i - 1].after_us) : 0;
		if (silent - slack >= EXCHANGE_S) {
			ch->exchanges++;
			began = o[i].first_us;
		}
		if (o[i].first_us / HOUR_US != hour) {
			hour = o[i].first_us / HOUR_US;
			hold = 0;
		}
		hold += o[i].last_us -
			(i && began != o[i].first_us ? o[i - 1].last_us : o[i].first_us);
		hold += began == o[i].first_us ? 2000000 : 0;
		most = hold > most ? hold : most;
	}
	ch->hold_share = fmin(1, (double)most / (double)HOUR_US);
}

/* How long its overs were and the silences between, for how well occupancy is known.
 * From one run to the next nobody looked. */
static void spreads(const struct census *c, struct channel *ch)
{
	const struct over *o = &c->over[ch->over];

	ch->looks.over = ch->looks.gap = (struct spread){ 0 };
	for (int i = 0; i < ch->overs; i++) {
		spread_add(&ch->looks.over, 1e-6 * (double)length_us(&o[i]));
		if (i == 0 || o[i].run != o[i - 1].run)
			continue;
		int64_t margins_us = (o[i].before_us + o[i - 1].after_us) / 2;
		int64_t silent_us = o[i].first_us - o[i - 1].last_us - margins_us;
		spread_add(&ch->looks.gap, fmax(0, 1e-6 * (double)silent_us));
	}
}

static void measure(const struct census *c, struct channel *ch, double *work)
{
	const struct over *o = &c->over[ch->over];

	ch->looks.overs = ch->overs;
	spreads(c, ch);
	if (ch->looks.busy > ch->looks.looks)
		ch->looks.busy = ch->looks.looks;
	ch->occupancy =
		ch->looked_us > 0 ? fmin(1, (double)ch->busy_us / (double)ch->looked_us) : 0;
	ch->likely = interval_occupancy(&ch->looks);
	/* A short burst fills part of the looks that met it. */
	if (ch->looks.busy > 0) {
		double part = ch->occupancy * (double)ch->looks.looks / (double)ch->looks.busy;
		ch->likely.low *= fmin(1, part);
		ch->likely.high *= fmin(1, part);
	}
	ch->likely.low = fmin(ch->likely.low, ch->occupancy);
	ch->likely.high = fmax(ch->likely.high, ch->occupancy);
	if (ch->overs == 0)
		return;
	ch->first_us = o[0].first_us;
	for (int i = 0; i < ch->overs; i++)
		if (o[i].last_us > ch->last_us)
			ch->last_us = o[i].last_us;
	levels(c, ch, work);
	talk(c, ch);
	lengths(c, ch);
	gaps(c, ch, work);
	nature_settle(c, ch, work);
}

static void beats(struct census *c, double *work)
{
	for (int b = 0, from = 0, end; b < c->bands; b++, from = end) {
		for (end = from; end < c->overs && c->over[end].band <= b; end++)
			;
		/* Where nothing was heard at all there is no array of overs. */
		beat_find(c->over ? &c->over[from] : NULL, end - from, c->looked[b].revisit_s, work,
			  &c->looked[b].beat);
	}
}

int census_settle(struct census *c)
{
	double *work = calloc((size_t)c->overs + 1, sizeof *work);
	int *owner = calloc((size_t)c->channels + 1, sizeof *owner);
	int result = -1;

	if (!work || !owner)
		goto out;
	sort_overs(c);
	accounts_sort(c->account, c->accounts);
	census_join(c);
	index_overs(c);
	c->folded += fold(c, work, owner);
	beats(c, work);
	for (int i = 0; i < c->channels; i++)
		measure(c, &c->channel[i], work);
	pairs_find(c);
	result = 0;
out:
	free(work);
	free(owner);
	return result;
}
