#include "daemon/town/night_inside.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/dice.h"

#define HOUR_US     INT64_C(3600000000)
#define REACTION_US 300000              /* until someone answers, at the least */

static int by_start(const void *a, const void *b)
{
	const struct over *x = a, *y = b;
	return (x->start_us > y->start_us) - (x->start_us < y->start_us);
}

/* Writes down the overs of one emitter. */
struct scribe {
	struct night         *night;
	const struct emitter *e;
	int                   at, answerer;     /* indices; answerer -1: none */
	struct dice           dice;
};

/* Cut at the end of the night; nothing on a day off. */
static int write_over(struct scribe *s, int emitter, int64_t start, int64_t end)
{
	const struct emitter *e = &s->night->town->emitters[emitter];
	int64_t last = s->night->town->length_us;
	struct over o = { .start_us = start, .talk_us = end < last ? end : last };

	if (start >= last || end <= start || town_day_off(s->night->town, e, start))
		return 0;
	o.end_us = o.talk_us;
	o.level_db = (float)(e->spread_db * dice_normal(&s->dice));
	o.seed = (uint32_t)dice_bits(&s->dice);
	return row_add(&s->night->overs[emitter], o);
}

static int64_t throw_length(struct dice *d, const struct emitter *e)
{
	double mean = (double)e->over_us, sigma2 = log1p(0.7 * 0.7), us = mean;

	if (e->lengths == SPOKEN_EXPONENTIAL)
		us = dice_exponential(d, mean);
	else if (e->lengths == SPOKEN_LOGNORMAL)
		us = mean * exp(sqrt(sigma2) * dice_normal(d) - sigma2 / 2);
	/* Nobody presses and lets go within a tenth of the usual. */
	return llround(fmax(us, 0.1 * mean));
}

/* The emitter's event of that kind that meets [from, to). */
static const struct event *own_event(const struct scribe *s, enum event_kind what, int64_t from,
				     int64_t to)
{
	const struct town *t = s->night->town;

	for (int i = 0; i < t->n_events; i++) {
		const struct event *v = &t->events[i];
		if (v->what == (int)what && v->emitter_at == s->at && from < v->until_us &&
		    to > v->from_us)
			return v;
	}
	return NULL;
}

static bool has_event(const struct scribe *s, enum event_kind what)
{
	return own_event(s, what, INT64_MIN, INT64_MAX) != NULL;
}

/* Exchanges per microsecond at that time. */
static double rate_at(const struct scribe *s, int64_t us)
{
	const struct event *more = own_event(s, EVENT_RATE, us, us + 1);
	bool busy = town_busy(s->night->town, s->e, us);

	if (has_event(s, EVENT_ONLY) && !own_event(s, EVENT_ONLY, us, us + 1))
		return 0;
	return s->e->rate / s->e->exchange / (double)HOUR_US * (busy ? 1 : s->e->quiet) *
	       (more ? more->factor : 1);
}

/* The highest it ever is. */
static double rate_most(const struct scribe *s)
{
	const struct town *t = s->night->town;
	double factor = 1;

	for (int i = 0; i < t->n_events; i++)
		if (t->events[i].what == EVENT_RATE && t->events[i].emitter_at == s->at)
			factor = fmax(factor, t->events[i].factor);
	return s->e->rate / s->e->exchange / (double)HOUR_US * factor;
}

/* Whether the emitter is kept from talking: by its own unbroken over, or by the
 * end of the only hour it is heard in. */
static bool kept_silent(const struct scribe *s, int64_t from, int64_t to)
{
	const struct event *only = own_event(s, EVENT_ONLY, from, from + 1);

	return own_event(s, EVENT_OVER, from, to) ||
	       (has_event(s, EVENT_ONLY) && (!only || to > only->until_us));
}

/* One exchange from *at on, with the answers of who talks in its gaps; *at is
 * then its end. */
static int write_exchange(struct scribe *s, int64_t *at)
{
	const struct emitter *e = s->e, *other = NULL;
	int overs = dice_geometric(&s->dice, e->exchange);

	if (s->answerer >= 0)
		other = &s->night->town->emitters[s->answerer];
	for (int i = 0; i < overs; i++) {
		int64_t end = *at + throw_length(&s->dice, e);
		if (kept_silent(s, *at, end))
			return 0;
		if (write_over(s, s->at, *at, end) < 0)
			return -1;
		*at = end;
		if (other && dice_unit(&s->dice) <= other->chance) {
			int64_t start = end + REACTION_US;
			end = start + throw_length(&s->dice, other);
			if (kept_silent(s, start, end + REACTION_US))
				return 0;
			if (write_over(s, s->answerer, start, end) < 0)
				return -1;
			*at = end + REACTION_US;
		}
		if (i + 1 < overs)
			*at += llround(dice_exponential(&s->dice, (double)e->gap_us));
	}
	return 0;
}

/* Exchanges arrive at random; one that finds the channel in use waits its turn. */
static int write_random(struct scribe *s)
{
	double most = rate_most(s);
	int64_t arrival = 0, free_us = 0, last = s->night->town->length_us;

	for (int i = 0; i < s->night->town->n_events; i++) {
		const struct event *v = &s->night->town->events[i];
		if (v->what != EVENT_ONLY || v->emitter_at != s->at)
			continue;
		/* One that is there twice finds the channel in use like any other. */
		if (v->from_us > free_us)
			free_us = v->from_us;
		if (write_exchange(s, &free_us) < 0)
			return -1;
	}
	for (;;) {
		/* Thinning (Lewis and Shedler 1979): at the highest rate, then some left out. */
		double wait_us = dice_exponential(&s->dice, 1 / most);
		if (!(wait_us < (double)(last - arrival)))      /* of a rate near nothing it is no number */
			return 0;
		arrival += 1 + llround(wait_us);
		if (arrival >= last)
			return 0;
		if (dice_unit(&s->dice) * most > rate_at(s, arrival))
			continue;
		int64_t at = arrival;
		if (at < free_us)
			at = free_us + llround(dice_exponential(&s->dice, (double)s->e->gap_us));
		if (write_exchange(s, &at) < 0)
			return -1;
		free_us = at > free_us ? at : free_us;
	}
}

static int write_periodic(struct scribe *s)
{
	int64_t at = llround(dice_unit(&s->dice) * (double)s->e->period_us), free_us = 0;

	for (; at < s->night->town->length_us; at += s->e->period_us) {
		if (!town_busy(s->night->town, s->e, at))
			continue;
		int64_t end = at + throw_length(&s->dice, s->e);
		if (at < free_us)       /* still on: its overs are longer than its period */
			continue;
		if (write_over(s, s->at, at, end) < 0)
			return -1;
		free_us = end;
	}
	return 0;
}

/* One over for each unbroken row of busy hours. */
static int write_continuous(struct scribe *s)
{
	const struct town *t = s->night->town;
	int64_t from = -1, next;

	for (int64_t at = 0; at < t->length_us; at = next) {
		next = at + HOUR_US - (t->start_us + at) % HOUR_US;
		bool on = town_busy(t, s->e, at);
		if (on && from < 0)
			from = at;
		if (from >= 0 && !on && write_over(s, s->at, from, at) < 0)
			return -1;
		if (!on)
			from = -1;
	}
	return from >= 0 ? write_over(s, s->at, from, t->length_us) : 0;
}

/* The unbroken overs among the night's events. */
static int write_events(struct scribe *s)
{
	const struct town *t = s->night->town;

	for (int i = 0; i < t->n_events; i++)
		if (t->events[i].what == EVENT_OVER && t->events[i].emitter_at == s->at &&
		    write_over(s, s->at, t->events[i].from_us, t->events[i].until_us) < 0)
			return -1;
	return 0;
}

/* A repeater's carrier stays up after talk, until the next talker at the most. */
static void hang(struct row *r, const struct emitter *e, int64_t last)
{
	for (int i = 0; i < r->n; i++) {
		struct over *o = &r->at[i];
		int64_t next = i + 1 < r->n ? o[1].start_us : last;
		o->end_us = o->talk_us + e->hang_us < next ? o->talk_us + e->hang_us : next;
	}
}

/* Keyed exactly when a talker keys the parent, as far as he is near enough. */
static int write_input(struct scribe *s)
{
	const struct row *parent = &s->night->overs[s->e->parent_at];

	for (int i = 0; i < parent->n; i++)
		if (dice_unit(&s->dice) <= s->e->chance &&
		    write_over(s, s->at, parent->at[i].start_us, parent->at[i].talk_us) < 0)
			return -1;
	return 0;
}

/* On while both parents are. */
static int write_ghost(struct scribe *s)
{
	const struct row *a = &s->night->overs[s->e->parent_at];
	const struct row *b = &s->night->overs[s->e->other_at];

	for (int i = 0, k = 0; i < a->n && k < b->n;) {
		const struct over *x = &a->at[i], *y = &b->at[k];
		int64_t from = x->start_us > y->start_us ? x->start_us : y->start_us;
		int64_t to = x->end_us < y->end_us ? x->end_us : y->end_us;
		if (from < to && write_over(s, s->at, from, to) < 0)
			return -1;
		if (x->end_us < y->end_us)
			i++;
		else
			k++;
	}
	return 0;
}

/* Of those that key themselves. */
static int write_emitter(struct scribe *s)
{
	struct row *r = &s->night->overs[s->at];
	int failed = s->e->continuous ? write_continuous(s)
		: s->e->period_us > 0 ? write_periodic(s) : write_random(s);

	if (failed < 0 || write_events(s) < 0)
		return -1;
	if (r->n > 0)
		qsort(r->at, (size_t)r->n, sizeof *r->at, by_start);
	hang(r, s->e, s->night->town->length_us);
	return 0;
}

/* Index of who talks in that emitter's gaps; -1: nobody. */
static int answerer_of(const struct town *t, int emitter)
{
	for (int k = 0; k < t->n_emitters; k++)
		if (*t->emitters[k].answers_to && t->emitters[k].answers_at == emitter)
			return k;
	return -1;
}

/* First those that key themselves, then those that others key. */
int night_write_overs(struct night *n)
{
	const struct town *t = n->town;

	for (int pass = 0; pass < 2; pass++)
		for (int i = 0; i < t->n_emitters; i++) {
			const struct emitter *e = &t->emitters[i];
			struct dice dice = dice_of(n->seed, (uint64_t)i);
			struct scribe s = { n, e, i, answerer_of(t, i), dice };
			int failed = 0;

			if (pass == 0 && !*e->parent && !*e->answers_to)
				failed = write_emitter(&s);
			else if (pass == 1 && *e->other)
				failed = write_ghost(&s);
			else if (pass == 1 && *e->parent)
				failed = write_input(&s);
			if (failed < 0)
				return -1;
		}
	return 0;
}
