#include "tools/plan/priority.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "tools/plan/former.h"
#include "tools/plan/merit.h"

/* What came of trying one. Worth is merit_line's. */
struct trying {
	int    at;                      /* memory of the plan                        */
	double hope;                    /* by weight, what it could gain in the first set */
	double gain; /* by weight, of all sets together, after what others lose */
	double was, is;                 /* its own worth in the first set            */
	double others; /* worth that the others gain there, mean by weight; below 0 */
};

bool priority_fit(const struct matter *m, const struct memory *e)
{
	if (e->locked || e->channel < 0 || e->same_as.bank || e->weight < PRIORITY_WEIGHT ||
	    e->certainty == CERTAIN_WEAK)
		return false;
	const struct channel *ch = &m->census->channel[e->channel];
	return ch->occupancy < PRIORITY_LOAD && ch->level_db >= PRIORITY_DB &&
	       ch->spread_db <= PRIORITY_SPREAD && (ch->kind == KIND_AM || ch->kind == KIND_NFM) &&
	       m->suspect[e->channel].is == SUSPECT_NONE;
}

/* A pinned slot keeps its priority, and a silent one where nothing better is there to have it. */
static bool held(const struct matter *m, struct plan *p, bool any)
{
	for (int i = 0; i < p->memories; i++) {
		struct memory *e = &p->memory[i];
		if (!e->priority)
			continue;
		if (m->receiver->priorities > 0 && (e->fixed || !any)) {
			snprintf(p->priority, sizeof p->priority,
				 "bank %d slot %d, as it is in your set", e->bank, e->slot);
			return true;
		}
		e->priority = false;
	}
	return false;
}

static int by_hope(const void *a, const void *b)
{
	const struct trying *x = a, *y = b;

	if (x->hope != y->hope)
		return x->hope > y->hope ? -1 : 1;
	return x->at - y->at;
}

/* Each set without any; own[set * lines + line]: the worth of each line, of one without a seat there, too:
 * all that it says is missed, and where it says nothing, nothing is. */
static int without(struct merit *v, const struct plan *p, double *own)
{
	for (int s = 0; s < v->sets; s++) {
		if (merit_set(v, p, s) < 0)
			return -1;
		for (int k = 0; k < v->lines; k++)
			own[s * v->lines + k] = merit_line(&v->line[k]);
	}
	return 0;
}

/* A set hears it too where its bank is off. own: see without. */
static void weigh(const struct merit *v, const struct memory *e, int set, const double *own,
		  struct trying *t)
{
	const double *want = &v->want[set * v->lines];
	double others = 0, of = 0, was = own[e->channel], is = merit_line(&v->line[e->channel]);

	for (int k = 0; k < v->lines; k++) {
		if (k == e->channel || want[k] <= 0)
			continue;
		others += want[k] * (merit_line(&v->line[k]) - own[k]);
		of += want[k];
	}
	t->gain += e->weight * (is - was) + others;
	if (set > 0)
		return;
	t->was = was;
	t->is = is;
	t->others = of > 0 ? others / of : 0;
}

static int try_one(struct merit *v, struct plan *p, const double *own, struct trying *t)
{
	struct memory *e = &p->memory[t->at];
	int result = 0;

	e->priority = true;
	for (int s = 0; s < v->sets && result == 0; s++) {
		if (merit_set(v, p, s) < 0)
			result = -1;
		else
			weigh(v, e, s, &own[s * v->lines], t);
	}
	e->priority = false;
	return result;
}

static bool has_it(const struct matter *m, const struct memory *e)
{
	const struct plan *set = m->former ? m->former->set : NULL;

	for (int i = 0; set && i < set->memories; i++)
		if (set->memory[i].priority && set->memory[i].channel == e->channel)
			return true;
	return false;
}

/* The best of them, told. */
static void settle(const struct matter *m, struct plan *p, const struct trying *t, int n)
{
	const struct trying *best = t;
	char mhz[FREQ_TEXT];
	double most = -INFINITY;

	for (int k = 0; k < n; k++) {
		const struct memory *e = &p->memory[t[k].at];
		double gain = t[k].gain + (has_it(m, e) ? PRIORITY_KEEP * e->weight : 0);
		if (gain > most) {
			most = gain;
			best = &t[k];
		}
	}
	struct memory *e = &p->memory[best->at];
	freq_format_mhz(mhz, e->frequency);
	e->priority = most > 0;
	snprintf(
		p->priority, sizeof p->priority,
		"%s%s MHz%s, the best of %d rehearsed: in %.30s %.0f %% of it %s heard instead of %.0f, and the others %s "
		"%.1f points",
		most > 0 ? "" : "none pays; ", mhz, most > 0 ? ", whichever banks are on" : "", n,
		p->set[0].name, 100 * best->is, most > 0 ? "is" : "would be", 100 * best->was,
		best->others > 0 ? "gain" : "lose", 100 * fabs(best->others));
}

static int rehearse_all(const struct matter *m, struct merit *v, struct plan *p, struct trying *t,
			int n)
{
	double *own = calloc((size_t)v->lines * ((size_t)v->sets + 1), sizeof *own);
	int result = own ? without(v, p, own) : -1;

	for (int k = 0; k < n && result == 0; k++) {
		const struct memory *e = &p->memory[t[k].at];
		t[k].hope = e->weight * (1 - own[e->channel]);
	}
	qsort(t, (size_t)n, sizeof *t, by_hope);
	n = n < PRIORITY_TRIED ? n : PRIORITY_TRIED;
	for (int k = 0; k < n && result == 0; k++)
		result = try_one(v, p, own, &t[k]);
	if (result == 0)
		settle(m, p, t, n);
	free(own);
	return result;
}

int priority_choose(const struct matter *m, const struct repertoire *on, struct plan *p)
{
	struct merit v = { 0 };
	struct trying *t = calloc((size_t)p->memories + 1, sizeof *t);
	int n = 0, result = -1;

	for (int i = 0; t && i < p->memories; i++)
		if (priority_fit(m, &p->memory[i]))
			t[n++] = (struct trying){ .at = i };
	if (!t || merit_create(&v, p, m->census, m->receiver, on) < 0)
		goto out;
	result = 0;
	if (held(m, p, n > 0))
		goto out;
	if (m->receiver->priorities < 1 || n == 0 || v.sets == 0)
		snprintf(
			p->priority, sizeof p->priority, "%s",
			m->receiver->priorities < 1 ?
				"none: this receiver has no priority channel" :
				"none: nothing wanted is voice, steady, 12 dB strong and on less than 5 % of the time");
	else
		result = rehearse_all(m, &v, p, t, n);
out:
	merit_free(&v);
	free(t);
	return result;
}
