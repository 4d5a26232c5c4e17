#include "tools/plan/side.h"

#include "tools/plan/glimpses.h"
#include "tools/plan/list.h"

#include <math.h>
#include <stdlib.h>

#define EDGES    4096           /* as many are enough */
#define QUARTER  0.25

static bool counted(const struct side_view *v, int hour)
{
	return v->counts[v->of_week ? hour : hour % DAY_HOURS];
}

/* Sweeps that see an over begin or end tell how long they were away. More overs begin in long
 * holes than in short ones: the quarter, and not the middle, is of those within a bunch. */
double side_between_s(const struct census *c)
{
	double *away = malloc(EDGES * sizeof *away), between = INFINITY;
	int step = 1 + 2 * c->overs / EDGES, n = 0;

	if (!away)
		return between;
	for (int i = 0; i < c->overs; i += step) {
		const int64_t slack[2] = { c->over[i].before_us, c->over[i].after_us };
		for (int k = 0; k < 2; k++)
			if (slack[k] >= 0 && !edge_seen(slack[k]) && n < EDGES)
				away[n++] = 1e-6 * (double)slack[k];
	}
	if (n > 0)
		between = list_quantile(away, n, QUARTER);
	free(away);
	return between;
}

/* ---- looks ---- */

static bool of_channel(const struct exposure *x, int32_t band, int32_t channel)
{
	return x->band == band && channel >= x->first && channel - x->first < x->count;
}

static void count_looks(const struct side_view *v, int32_t band, int32_t channel, struct side *out)
{
	const struct census *c = v->census;

	for (int i = 0; i < c->exposures; i++) {
		const struct exposure *x = &c->exposure[i];
		if (!of_channel(x, band, channel) || !counted(v, x->hour))
			continue;
		out->looks += x->looks;
		out->pairs += x->pairs;
	}
	for (int i = accounts_find(c->account, c->accounts, band, channel);
	     i < c->accounts && c->account[i].band == band && c->account[i].channel == channel;
	     i++) {
		if (!counted(v, c->account[i].hour))
			continue;
		out->blind += c->account[i].blind;
		out->busy += c->account[i].busy;
		out->evidence += c->account[i].evidence;
		out->openings += c->account[i].openings;
	}
	out->looks = fmax(out->looks - out->blind, 0);
	out->busy = fmin(out->busy, out->looks);
	out->evidence = fmin(out->evidence, out->looks);
}

double side_hours(const struct side_view *v, int32_t band, int32_t channel, double length_s)
{
	const struct census *c = v->census;
	struct side s = { 0 };
	double seen_s = 0, looks = 0;

	for (int i = 0; i < c->exposures; i++)
		if (of_channel(&c->exposure[i], band, channel) && counted(v, c->exposure[i].hour)) {
			seen_s += exposure_seen_s(&c->exposure[i], v->between_s, length_s);
			looks += c->exposure[i].looks;
		}
	count_looks(v, band, channel, &s);
	return looks > 0 ? seen_s / 3600 * s.looks / looks : 0;
}

/* ---- overs ---- */

/* Weight by stretches of time, and how much those that follow each other differ. */
struct stretches {
	int64_t us, at;                 /* how long one is; which is under way        */
	double  weight, before;         /* its; that of the one before, 0 where nothing was */
	double  apart;                  /* half the squared differences               */
};

/* Sums over overs as they come. */
struct gathering {
	double all, squares;            /* of clusters' weights                       */
	double cluster;                 /* the one under way                          */
	int    exchanges, clusters;
	double seen_s, most_s;          /* lengths of exchanges                       */
	struct stretches quarter, hour;
};

/* Was it looked at then, as far as the hours tell. */
static bool in_view(const struct side_view *v, const struct stretches *s, int64_t at)
{
	int64_t us = at * s->us;

	return us + s->us > v->census->start_us && us < v->census->end_us &&
	       counted(v, week_hour(census_local_us(v->census, us)));
}

static void differ(struct stretches *s, double a, double b)
{
	s->apart += (a - b) * (a - b) / 2;
}

static void end_stretch(const struct side_view *v, struct stretches *s, int64_t next)
{
	if (s->weight > 0 && (s->before > 0 || in_view(v, s, s->at - 1)))
		differ(s, s->weight, s->before);
	if (s->weight > 0 && next != s->at + 1 && in_view(v, s, s->at + 1))
		differ(s, s->weight, 0);
	s->before = next == s->at + 1 ? s->weight : 0;
	s->weight = 0;
	s->at = next;
}

static void add_to(const struct side_view *v, struct stretches *s, int64_t us, double weight)
{
	if (us / s->us != s->at)
		end_stretch(v, s, us / s->us);
	s->weight += weight;
}

static void end_cluster(struct gathering *g)
{
	g->squares += g->cluster * g->cluster;
	g->clusters += g->cluster > 0;
	g->cluster = 0;
}

static double slack_s(int64_t us)
{
	return us > 0 ? 1e-6 * (double)us : 0;
}

static void gather(const struct side_view *v, struct gathering *g, const struct over *o,
		   const struct over *last, double look_s)
{
	double silent = last ? 1e-6 * (double)(o->first_us - last->last_us) : INFINITY;
	double slack = last ? slack_s(o->before_us) + slack_s(last->after_us) : 0;
	double on_s = 1e-6 * (double)(o->last_us - o->first_us);

	add_to(v, &g->quarter, o->first_us, on_s + look_s);
	add_to(v, &g->hour, o->first_us, on_s + look_s);
	if (silent >= EXCHANGE_S)
		end_cluster(g);
	if (silent - slack >= EXCHANGE_S) {
		g->exchanges++;
		g->most_s += slack_s(o->before_us) + (last ? slack_s(last->after_us) : 0);
		silent = 0;
	}
	g->seen_s += silent + on_s;
	g->all += on_s + look_s;
	g->cluster += on_s + look_s;
}

void side_measure(const struct side_view *v, int32_t band, int32_t channel, int at,
		  struct side *out)
{
	const struct census *c = v->census;
	const struct channel *ch = at < 0 ? NULL : &c->channel[at];
	const struct over *last = NULL;
	struct gathering g = { .quarter = { .us = HOUR_US / 4 }, .hour = { .us = HOUR_US } };
	double look_s = isfinite(v->between_s) ? v->between_s : 0.01;

	*out = (struct side){ .channel = at };
	count_looks(v, band, channel, out);
	for (int i = 0; ch && i < ch->overs; i++) {
		const struct over *o = &c->over[ch->over + i];
		if (!counted(v, week_hour(census_local_us(c, o->first_us))))
			continue;
		gather(v, &g, o, last, look_s);
		out->overs++;
		last = o;
	}
	if (!last)
		return;
	end_stretch(v, &g.quarter, INT64_MAX);
	end_stretch(v, &g.hour, INT64_MAX);
	end_cluster(&g);
	g.most_s += slack_s(last->after_us);
	out->length_s =
		(struct interval){ g.seen_s / g.exchanges, (g.seen_s + g.most_s) / g.exchanges };
	out->exchanges = (int)fmin(g.exchanges, fmax(out->openings, out->busy > 0));
	out->clusters = fmin(g.clusters, out->busy);
	out->uneven =
		g.clusters * fmax(g.squares, fmax(g.quarter.apart, g.hour.apart)) / (g.all * g.all);
}
