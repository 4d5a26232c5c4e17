#include "daemon/challenge.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/suspicion.h"
#include "dsp/window.h"

#define GROUPS     8            /* trials under way: one a hop, so one a dongle          */
#define GROUP_MOST 32           /* lines that share a trial's looks                      */
#define FRESH_US   400000       /* looks of a trial lie no farther apart                 */
#define PAUSE_US   20000000     /* between trials of a line that was there ...           */
#define ATTEMPTS   24           /* ... and how many it gets at the most                  */
#define SEVERAL    3            /* trials in a row while it is on                        */
#define LESS_DB    6.0
#define SHOW_HZ    500.0        /* a tuner's landing is known to this (R820T at UHF)     */
#define EARS       2

/* The looks of a trial. */
enum step { STEP_HOME = 0, STEP_MOVED, STEP_WEAKER, STEP_AGAIN, STEPS };

struct group {
	int          hop;
	int          step;              /* next one wanted; 0: not begun               */
	int64_t      at_us;             /* when the last was had                       */
	double       shift_hz;
	int          line[GROUP_MOST];
	struct trial trial[GROUP_MOST];
	int          n;
};

struct challenges {
	struct challenge_wants wants;
	struct lines_heard heard;
	float        *window[EARS];     /* of the ears' transforms, by length          */
	int32_t       bins[EARS];
	struct group  group[GROUPS];
	int64_t       now_us;           /* mono, end of the last look                  */
	struct artefact_row row[GROUP_MOST];    /* found at the last one           */
	int           rows, taken;
};

static const float *window_of(const struct challenges *c, int bins)
{
	for (int k = 0; k < EARS; k++)
		if (c->bins[k] == bins)
			return c->window[k];
	return NULL;
}

static int make_windows(struct challenges *c)
{
	for (int i = 0, k = 0; i < c->wants.hops->n && k < EARS; i++) {
		int bins = c->wants.hops->hops[i].bins;
		if (window_of(c, bins))
			continue;
		c->window[k] = malloc((size_t)bins * sizeof *c->window[k]);
		if (!c->window[k])
			return -1;
		window_fill(c->window[k], bins, WINDOW_KAISER, WINDOW_BETA);
		c->bins[k++] = bins;
	}
	return 0;
}

struct challenges *challenges_create(const struct challenge_wants *w)
{
	struct challenges *c = calloc(1, sizeof *c);

	if (!c)
		return NULL;
	c->wants = *w;
	if (make_windows(c) < 0)
		goto fail;
	return c;
fail:
	challenges_destroy(c);
	return NULL;
}

void challenges_destroy(struct challenges *c)
{
	if (!c)
		return;
	for (int i = 0; i < EARS; i++)
		free(c->window[i]);
	free(c);
}

/* ---- what to look at ---- */

/* There now, not settled, and its turn. */
static bool due(const struct challenges *c, const struct line_heard *l)
{
	if (l->settled || l->attempts >= ATTEMPTS || !line_on(&c->heard, l, c->now_us))
		return false;
	/* Whether a bare line at the crystal's multiple is always on takes a while to say. */
	if (l->reason == REASON_CRYSTAL && l->proof.looks < 20)
		return false;
	return l->row < SEVERAL || c->now_us - l->tried_us >= PAUSE_US;
}

static int most_due(const struct challenges *c, const bool *held)
{
	int best = -1;

	for (int i = 0; i < c->heard.n; i++) {
		const struct line_heard *l = &c->heard.line[i];
		const struct line_heard *b = &c->heard.line[best < 0 ? 0 : best];
		if (held[l->hop] && due(c, l) &&
		    (best < 0 || l->reason < b->reason ||
		     (l->reason == b->reason && l->tried_us < b->tried_us)))
			best = i;
	}
	return best;
}

/* An odd amount, another one each time, to the side that brings the line nearer
 * to the middle; and not onto it, where the tuner's own offset is. */
static double shift_for(const struct challenges *c, const struct line_heard *l)
{
	static const double shifts_hz[] = { 137e3, 163e3, 119e3, 151e3, 173e3 };
	int n = (int)(sizeof shifts_hz / sizeof shifts_hz[0]);
	double off = l->proof.hz - freq_to_hz(c->wants.hops->hops[l->hop].centre), shift = 0;

	for (int i = 0; i < n; i++) {
		shift = shifts_hz[(l->attempts + i) % n] * (l->proof.wide_hz > 60e3 ? 3 : 1);
		shift = copysign(shift, off);
		if (fabs(off - shift) > 25e3 + l->proof.wide_hz / 2)
			break;
	}
	return shift;
}

/* One trial for all on the hop that are there. */
static void gather(struct challenges *c, struct group *g, int first)
{
	const struct line_heard *l = &c->heard.line[first];

	*g = (struct group){ .hop = l->hop, .shift_hz = shift_for(c, l), .n = 1,
			     .line = { first } };
	for (int i = 0; i < c->heard.n && g->n < GROUP_MOST; i++)
		if (i != first && c->heard.line[i].hop == g->hop && due(c, &c->heard.line[i]))
			g->line[g->n++] = i;
	for (int i = 0; i < g->n; i++)
		g->trial[i] = (struct trial){ .shift_hz = g->shift_hz, .less_db = LESS_DB };
}

static bool under_way(const struct challenges *c, const struct group *g)
{
	return g->step > 0 && c->now_us - g->at_us <= FRESH_US;
}

static bool next_wanted(void *self, const bool *held, struct visit *out)
{
	struct challenges *c = self;
	struct group *g = NULL;

	for (int i = 0; i < GROUPS && !g; i++)
		if (under_way(c, &c->group[i]) && held[c->group[i].hop])
			g = &c->group[i];
	if (!g) {
		int first = most_due(c, held);
		for (int i = 0; i < GROUPS && first >= 0 && !g; i++)
			if (!under_way(c, &c->group[i]))
				g = &c->group[i];
		if (!g)
			return false;
		gather(c, g, first);
	}
	out->hop = g->hop;
	out->looks = 1;
	out->moved = freq_from_hz(g->step == STEP_MOVED ? g->shift_hz : 0);
	out->lowered_tenth_db = g->step == STEP_WEAKER ? (int)(LESS_DB * 10) : 0;
	out->mark = (g - c->group) * STEPS + g->step;
	return true;
}

/* ---- what it showed ---- */

static void look_at(struct challenges *c, struct group *g, const struct look *l)
{
	const float *w = window_of(c, l->bins);
	int hop = l->bins / 2;          /* half overlapped */

	for (int i = 0; i < g->n; i++) {
		const struct evidence *e = &c->heard.line[g->line[i]].proof;
		struct trial *t = &g->trial[i];
		struct sighting *one = g->step == STEP_HOME ? &t->home :
				       g->step == STEP_WEAKER ? &t->weaker : &t->again;
		if (g->step != STEP_MOVED) {
			*one = sighting_take(l, w, hop, e->hz, e->wide_hz);
			continue;
		}
		for (enum move m = 0; m < MOVES; m++)
			t->moved[m] = sighting_take(l, w, hop, e->hz + move_factor(m) * g->shift_hz,
						    e->wide_hz);
	}
}

static void tell(struct challenges *c, const struct line_heard *l, const struct ruling *r,
		 int64_t at_us)
{
	struct artefact_row *row = &c->row[c->rows++];

	*row = (struct artefact_row){ .at_us = at_us, .band = l->band, .channel = l->channel };
	snprintf(row->cause, sizeof row->cause, "%s", ruling_name(r->is));
	challenge_tell(&l->proof, r, row->text, sizeof row->text);
}

static void conclude(struct challenges *c, struct line_heard *l, const struct trial *t,
		     int64_t at_us)
{
	struct evidence *e = &l->proof;

	l->row = c->now_us - l->tried_us < PAUSE_US ? l->row + 1 : 1;
	l->tried_us = c->now_us;
	l->attempts++;
	e->broken += trial_broke(t);
	if (!trial_counts(t))
		return;
	e->trial[e->trials++] = *t;
	e->applied_ppm = c->heard.ppm;
	e->show_error_hz = SHOW_HZ;
	suspicion_parents(&c->heard, l, c->wants.hops->hops[l->hop].rate_hz, c->now_us);
	struct ruling r = challenge_judge(e);
	l->settled = r.is != RULING_UNSURE || e->trials == TRIALS_MOST;
	if (!l->settled)
		return;
	if (r.is != RULING_UNSURE)
		tell(c, l, &r, at_us);
}

static void challenged(struct challenges *c, const struct visit *v, const struct look *l)
{
	struct group *g = &c->group[v->mark / STEPS % GROUPS];

	if (g->step != v->mark % STEPS || g->hop != v->hop || !window_of(c, l->bins))
		return;
	look_at(c, g, l);
	g->at_us = c->now_us;
	if (++g->step < STEPS)
		return;
	g->step = 0;
	for (int i = 0; i < g->n; i++)
		conclude(c, &c->heard.line[g->line[i]], &g->trial[i], l->start_us);
	g->n = 0;
}

static void see(void *self, const struct sight *s)
{
	struct challenges *c = self;

	c->rows = c->taken = 0;
	c->now_us = s->look->mono_us + s->look->length_us;
	c->heard.ppm = s->ppm;
	if (s->visit->kind == VISIT_CHALLENGE)
		challenged(c, s->visit, s->look);
	else if (s->visit->kind == VISIT_SWEEP && s->judged)
		lines_heard_look(&c->heard, s->hop, s->visit->hop, c->wants.bands, s->look,
				 s->judged);
}

static bool found(void *self, struct artefact_row *out)
{
	struct challenges *c = self;

	if (c->taken == c->rows)
		return false;
	*out = c->row[c->taken++];
	return true;
}

struct challenger challenges_asker(struct challenges *c)
{
	return (struct challenger){ c, next_wanted };
}

struct onlooker challenges_onlooker(struct challenges *c)
{
	return (struct onlooker){ c, see, found };
}
