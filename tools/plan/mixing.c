#include "tools/plan/mixing.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define GHOST_STRONGER_DB    20.0
#define SPLATTER_STRONGER_DB 40.0
#define SPLATTER_HZ          60e3
#define SLACK_HZ             2e3
#define TOGETHER             0.95       /* of the child's overs              */
#define CHANCE               0.01       /* that so many would agree by luck  */
#define PARENTS_MAX          40         /* the strongest; triples grow fast  */

/* Whether the over, its unseen edges included, meets any of the channel's. */
static bool meets(const struct census *c, const struct channel *p, const struct over *o)
{
	const struct over *at = &c->over[p->over];
	int low = 0, high = p->overs;
	int64_t from = o->first_us - o->before_us, to = o->last_us + o->after_us;

	/* The last that begins before the over ends; overs of a channel follow
	 * one another. */
	while (low < high) {
		int mid = (low + high) / 2;
		if (at[mid].first_us - at[mid].before_us <= to)
			low = mid + 1;
		else
			high = mid;
	}
	return low > 0 && at[low - 1].last_us + at[low - 1].after_us >= from;
}

/* Share of the survey in which an over of so many seconds would meet one of p's. */
static double odds_of(const struct census *c, const struct channel *p, double length_s)
{
	double on = 0, wall = 1e-6 * (double)c->wall_us;

	for (int i = 0; i < p->overs; i++) {
		const struct over *o = &c->over[p->over + i];
		on += 1e-6 * (double)(o->last_us - o->first_us + o->before_us + o->after_us) +
		      length_s;
	}
	return wall > 0 ? fmin(1, on / wall) : 1;
}

/* All of the parents are on during nearly all of the child's overs, and not by
 * chance; tries: how many sets of parents had a chance to fit. */
static bool together(const struct census *c, const struct channel *child, const int *parent, int n,
		     double tries)
{
	int met = 0;
	double odds = 1, slack = 0;

	for (int i = 0; i < child->overs; i++) {
		const struct over *o = &c->over[child->over + i];
		bool all = true;
		for (int p = 0; p < n; p++)
			all = all && meets(c, &c->channel[parent[p]], o);
		met += all;
		slack += 1e-6 * (double)(o->before_us + o->after_us) / child->overs;
	}
	if (child->overs == 0 || met < TOGETHER * child->overs)
		return false;
	/* Parents that talk to each other come on together: the rarest alone counts. */
	for (int p = 0; p < n; p++)
		odds = fmin(odds, odds_of(c, &c->channel[parent[p]], child->over_s + slack));
	return pow(odds, child->overs) * tries < CHANCE;
}

/* Indices of the strongest channels that are so far above the child. */
static int stronger(const struct census *c, const struct channel *child, double by_db, int *out)
{
	int n = 0;

	for (int i = 0; i < c->channels; i++) {
		const struct channel *p = &c->channel[i];
		if (p->overs == 0 || p->level_db < child->level_db + by_db)
			continue;
		int at = n < PARENTS_MAX ? n++ : PARENTS_MAX;
		while (at > 0 && c->channel[out[at - 1]].level_db < p->level_db) {
			if (at < PARENTS_MAX)
				out[at] = out[at - 1];
			at--;
		}
		if (at < PARENTS_MAX)
			out[at] = i;
	}
	return n;
}

/* A + B - C lands on the child; A and B may be the same. */
static bool fits(const struct census *c, const struct channel *child, int a, int b, int minus)
{
	const struct channel *A = &c->channel[a], *B = &c->channel[b], *C = &c->channel[minus];
	double at = channel_hz(A) + channel_hz(B) - channel_hz(C);
	double slack = SLACK_HZ + (A->width_hz + B->width_hz + C->width_hz) / 2;

	return a != minus && b != minus && fabs(at - channel_hz(child)) <= slack;
}

/* Continuous parents are always met. Then the child must be as continuous, and
 * sit where the sum says. */
static bool all_continuous(const struct census *c, const struct channel *child, const int *p, int n)
{
	if (child->occupancy <= CONTINUOUS_SHARE || (n == 3 && p[0] != p[1]))
		return false;
	for (int i = 0; i < n; i++)
		if (c->channel[p[i]].occupancy <= CONTINUOUS_SHARE)
			return false;
	double at = 2 * channel_hz(&c->channel[p[0]]) - channel_hz(&c->channel[p[2]]);
	return fabs(at - channel_hz(child)) <= SLACK_HZ && child->kind == c->channel[p[0]].kind;
}

static void tell_ghost(const struct census *c, const int *p, struct suspect *out)
{
	char a[FREQ_TEXT], b[FREQ_TEXT], m[FREQ_TEXT];

	for (int i = 0; i < 3; i++)
		out->parent[i] = p[i];
	freq_format_mhz(a, c->channel[p[0]].centre);
	freq_format_mhz(b, c->channel[p[1]].centre);
	freq_format_mhz(m, c->channel[p[2]].centre);
	if (p[0] == p[1])
		snprintf(out->why, sizeof out->why, "2 x %s - %s MHz, heard only while both are on",
			 a, m);
	else
		snprintf(out->why, sizeof out->why,
			 "%s + %s - %s MHz, heard only while all three are on", a, b, m);
}

bool mixing_ghost(const struct census *c, int i, struct suspect *out)
{
	const struct channel *child = &c->channel[i];
	int strong[PARENTS_MAX + 1], n = stronger(c, child, GHOST_STRONGER_DB, strong);

	for (int plain = 1; plain >= 0; plain--)        /* 2A-B first: fewer to blame */
		for (int a = 0; a < n; a++)
			for (int b = plain ? a : a + 1; b < (plain ? a + 1 : n); b++)
				for (int m = 0; m < n; m++) {
					int p[3] = { strong[a], strong[b], strong[m] };
					double tries = plain ? n : (double)n * n / 2;
					if (!fits(c, child, p[0], p[1], p[2]))
						continue;
					if (!together(c, child, p, 3, tries) &&
					    !all_continuous(c, child, p, 3))
						continue;
					tell_ghost(c, p, out);
					return true;
				}
	return false;
}

bool mixing_splatter(const struct census *c, int i, struct suspect *out)
{
	const struct channel *child = &c->channel[i];

	for (int j = 0; j < c->channels; j++) {
		const struct channel *p = &c->channel[j];
		double apart = channel_hz(p) - channel_hz(child);
		char text[FREQ_TEXT];
		if (j == i || fabs(apart) > SPLATTER_HZ || p->overs == 0 ||
		    p->level_db < child->level_db + SPLATTER_STRONGER_DB ||
		    !together(c, child, &j, 1, 1))
			continue;
		out->parent[0] = j;
		snprintf(
			out->why, sizeof out->why,
			"%.1f kHz from %s MHz, which is %.0f dB stronger, and never heard without it",
			fabs(apart) / 1e3, freq_format_mhz(text, p->centre),
			p->level_db - child->level_db);
		return true;
	}
	return false;
}
