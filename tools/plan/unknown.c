#include "tools/plan/unknown.h"

#include "tools/plan/occupancy.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <strings.h>

#define MON_FRI 0x1f
#define SAT_SUN 0x60
#define FRI_SAT 0x30
#define ALL_DAYS 0x7f

/* When services talk: so many times as much as in the rest of their week (all common
 * practice). of_the_day: who does not talk then hardly talks at all. */
static const struct habit {
	const char *service;
	unsigned    days;               /* bit 0: Monday        */
	int         from, to;           /* local hours          */
	double      times;
	bool        of_the_day;
} habits[] = {
	{ "business",  MON_FRI,  8, 18, 8, true },
	{ "works",     MON_FRI,  7, 17, 8, true },
	{ "mixed",     MON_FRI,  8, 18, 8, true },
	{ "service",   MON_FRI,  8, 18, 4, true },
	{ "transport", MON_FRI,  6, 19, 8, true },
	{ "bus",       MON_FRI,  6, 19, 8, true },
	{ "school",    MON_FRI,  7,  9, 16, true },
	{ "school",    MON_FRI, 14, 16, 16, true },
	{ "fire",      ALL_DAYS, 11, 13, 2, false },
	{ "fire",      ALL_DAYS, 17, 21, 2, false },
	{ "ems",       ALL_DAYS, 8, 22, 2, false },
	{ "police",    FRI_SAT, 20, 24, 4, false },
	{ "police",    SAT_SUN, 0,  2, 4, false },
	{ "air",       ALL_DAYS, 7, 20, 4, false },
	{ "military-air", MON_FRI, 8, 17, 8, false },
	{ "marine",    ALL_DAYS, 5, 9, 3, false },
	{ "marine",    SAT_SUN, 9, 18, 3, false },
	{ "amateur",   MON_FRI, 7, 9, 2, false },
	{ "amateur",   ALL_DAYS, 17, 22, 4, false },
	{ "personal",  MON_FRI, 15, 18, 4, false },
	{ "personal",  SAT_SUN, 9, 18, 4, false },
};

#define HABITS (sizeof habits / sizeof habits[0])

/* As much an hour as in other hours of its week: 1, or what the table says. */
static double times_of(const char *service, int hour)
{
	int day = hour / DAY_HOURS, of_day = hour % DAY_HOURS;

	for (size_t i = 0; i < HABITS; i++) {
		const struct habit *h = &habits[i];
		if (strcasecmp(h->service, service) == 0 && (h->days >> day & 1) &&
		    of_day >= h->from && of_day < h->to)
			return h->times;
	}
	return 1;
}

void unknown_habit(const char *service, double share[])
{
	double all = 0;

	for (int h = 0; h < WEEK_HOURS; h++)
		all += share[h] = times_of(service, h);
	for (int h = 0; h < WEEK_HOURS; h++)
		share[h] /= all;
}

static bool is_of_the_day(const char *service)
{
	for (size_t i = 0; i < HABITS; i++)
		if (habits[i].of_the_day && strcasecmp(habits[i].service, service) == 0)
			return true;
	return false;
}

bool unknown_by_day(const struct census *c, int band)
{
	return is_of_the_day(c->band[band].service) && week_work_hours(&c->week[band]) == 0;
}

static const struct {
	const char *name;
	int         first, last;
} days[DAY_KINDS] = {
	[DAY_WEEK] = { "a weekday", 0, 4 }, [DAY_SATURDAY] = { "a Saturday", 5, 5 },
	[DAY_SUNDAY] = { "a Sunday", 6, 6 },
};

const char *day_kind_name(enum day_kind k)
{
	return days[k].name;
}

void day_kind_days(enum day_kind k, int *first, int *last)
{
	*first = days[k].first;
	*last = days[k].last;
}

/* ---- band by band ---- */

static bool looked_at(const struct week *w, int hour)
{
	return week_state(&w->cell[hour]) != WEEK_NOT_LOOKED;
}

static bool silent(const struct census *c, const struct suspect *s, int band)
{
	for (int i = 0; i < c->channels; i++)
		if (c->channel[i].band == band && !(s && suspicion_false(s[i].is)))
			return false;
	return true;
}

bool unknown_deaf(const struct census *c, const struct suspect *s, int band)
{
	const struct looked *l = &c->looked[band];

	return l->looks > 0 && l->off_looks > 0 && l->floor_dbfs < l->off_dbfs + DEAF_DB &&
	       silent(c, s, band);
}

static void band_of(const struct census *c, const struct suspect *s, int b,
		    struct unknown_band *out)
{
	const struct looked *l = &c->looked[b];
	double look_s = l->looks > 0 ? 1e-6 * (double)l->looked_us / (double)l->looks : 0;
	double usual[WEEK_HOURS];

	unknown_habit(c->band[b].service, usual);
	*out = (struct unknown_band){ .by_day = unknown_by_day(c, b), .nothing = silent(c, s, b),
				      .deaf = unknown_deaf(c, s, b) };
	for (enum day_kind k = 0; k < DAY_KINDS; k++)
		for (int h = days[k].first * DAY_HOURS; h < (days[k].last + 1) * DAY_HOURS; h++) {
			if (!looked_at(&c->week[b], h))
				continue;
			out->hours++;
			out->days[k] = true;
			out->known += usual[h];
		}
	out->known = fmin(1, out->known);
	out->none_h = interval_none_hour(occupancy_seen(OCCUPANCY_OVER_S, look_s, l->revisit_s),
					 (double)l->looks * l->revisit_s);
}

/* ---- the hours to survey next ---- */

/* What is not known of one band in the hours of one kind of day. */
struct gap {
	double usual[DAY_KINDS][DAY_HOURS];     /* weight that falls there, of all such days */
	int    looked[DAY_KINDS][DAY_HOURS];    /* on so many of them                        */
};

static double missing(const struct gap *g, enum day_kind k, int hour)
{
	return g->usual[k][hour] / (1 + g->looked[k][hour]);
}

/* What one more such day would tell. */
static double gain(const struct gap *g, enum day_kind k, int hour)
{
	return missing(g, k, hour) - g->usual[k][hour] / (2 + g->looked[k][hour]);
}

/* The service's weight is shared by its bands. */
static double weight_of(const struct census *c, const struct interests *i, int band)
{
	const struct interest *of = interests_of(i, c->band[band].service);
	int sharing = 0;

	for (int b = 0; b < c->bands; b++)
		sharing += interests_of(i, c->band[b].service) == of;
	return of->role == ROLE_VOICE ? of->weight / sharing : 0;
}

static void gap_of(const struct census *c, const struct interests *i, int b, struct gap *g)
{
	double weight = weight_of(c, i, b), usual[WEEK_HOURS];

	unknown_habit(c->band[b].service, usual);
	for (enum day_kind k = 0; k < DAY_KINDS; k++)
		for (int h = days[k].first * DAY_HOURS; h < (days[k].last + 1) * DAY_HOURS; h++) {
			g->usual[k][h % DAY_HOURS] += weight * usual[h];
			g->looked[k][h % DAY_HOURS] += looked_at(&c->week[b], h);
		}
}

static double told_by(const struct gap *g, enum day_kind k, int from)
{
	double sum = 0;

	for (int h = from; h < from + NEXT_HOURS; h++)
		sum += gain(g, k, h);
	return sum;
}

static bool overlaps(const struct unknown *u, enum day_kind k, int from)
{
	for (int i = 0; i < u->blocks; i++)
		if (u->next[i].on == k && abs(u->next[i].from - from) < NEXT_HOURS)
			return true;
	return false;
}

/* A difference of rounding is none: the earlier one. */
#define SAME 1e-9

static bool best_block(const struct gap *g, int n, const struct unknown *u, struct next_hours *out)
{
	*out = (struct next_hours){ 0 };
	for (enum day_kind k = 0; k < DAY_KINDS; k++)
		for (int from = 0; from + NEXT_HOURS <= DAY_HOURS; from++) {
			double tells = 0;
			for (int b = 0; b < n; b++)
				tells += told_by(&g[b], k, from);
			if (tells > out->tells + SAME && !overlaps(u, k, from))
				*out = (struct next_hours){ .on = k, .from = from, .tells = tells };
		}
	return out->tells > 0;
}

/* Of whom the block tells most: by the share of the service's week, whatever its weight. */
static void name_services(const struct census *c, const struct interests *i, const struct gap *g,
			  struct next_hours *out)
{
	double told[NEXT_SERVICES] = { 0 };

	for (int b = 0; b < c->bands; b++) {
		const struct interest *of = interests_of(i, c->band[b].service);
		double all = 0;
		bool before = false;
		for (int o = 0; o < c->bands; o++) {
			if (interests_of(i, c->band[o].service) != of)
				continue;
			before |= o < b;
			all += told_by(&g[o], out->on, out->from);
		}
		all /= fmax(of->weight, SAME);
		int at = out->services;
		while (at > 0 && told[at - 1] + SAME < all)
			at--;
		if (before || all <= 0 || at == NEXT_SERVICES)
			continue;
		out->services += out->services < NEXT_SERVICES;
		for (int k = out->services - 1; k > at; k--) {
			told[k] = told[k - 1];
			out->of[k] = out->of[k - 1];
		}
		told[at] = all;
		out->of[at] = of;
	}
}

static void find_next(const struct census *c, const struct interests *i, struct gap *g,
		      struct unknown *out)
{
	double all = 0, unknown = 0;
	struct next_hours next;

	for (int b = 0; b < c->bands; b++)
		for (enum day_kind k = 0; k < DAY_KINDS; k++)
			for (int h = 0; h < DAY_HOURS; h++) {
				all += g[b].usual[k][h];
				unknown += missing(&g[b], k, h);
			}
	out->share = all > 0 ? unknown / all : 0;
	while (out->blocks < NEXT_BLOCKS && best_block(g, c->bands, out, &next)) {
		name_services(c, i, g, &next);
		for (int b = 0; b < c->bands; b++)
			for (int h = next.from; h < next.from + NEXT_HOURS; h++)
				g[b].looked[next.on][h]++;
		next.tells /= unknown;
		out->next[out->blocks++] = next;
	}
}

int unknown_find(const struct census *c, const struct suspect *s, const struct interests *i,
		 struct unknown *out)
{
	struct gap *g = calloc((size_t)c->bands + 1, sizeof *g);

	*out = (struct unknown){ .bands = c->bands };
	out->band = calloc((size_t)c->bands + 1, sizeof *out->band);
	if (!g || !out->band) {
		free(g);
		unknown_free(out);
		return -1;
	}
	for (int b = 0; b < c->bands; b++) {
		band_of(c, s, b, &out->band[b]);
		gap_of(c, i, b, &g[b]);
	}
	find_next(c, i, g, out);
	free(g);
	return 0;
}

void unknown_free(struct unknown *u)
{
	free(u->band);
	*u = (struct unknown){ 0 };
}

char *unknown_next_words(const struct next_hours *b, char out[NEXT_TEXT])
{
	int n = snprintf(out, NEXT_TEXT, "%s %02d:00-%02d:00 would tell most%s",
			 day_kind_name(b->on), b->from, b->from + NEXT_HOURS,
			 b->services ? ":" : "");

	for (int k = 0; k < b->services && n < NEXT_TEXT; k++)
		n += snprintf(out + n, (size_t)(NEXT_TEXT - n), "%s %s", k ? "," : "",
			      b->of[k]->title);
	return out;
}
