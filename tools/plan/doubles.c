#include "tools/plan/doubles.h"

#include <stdio.h>
#include <string.h>

#include "tools/plan/former.h"
#include "tools/plan/layout.h"
#include "tools/plan/list.h"
#include "tools/plan/merit.h"

/* Where a second seat would be. */
struct place {
	int memory;                     /* its first seat                 */
	int bank, slot, at;             /* at: place among the memories   */
	bool had;                       /* the set in use has it there    */
};

static bool vital(const struct memory *e)
{
	return layout_urgent(e) && !e->locked && !e->fixed && !e->kept && e->channel >= 0 &&
	       !e->same_as.bank && !e->priority && e->certainty != CERTAIN_WEAK;
}

static bool slot_taken(const struct plan *p, int bank, int slot)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].bank == bank && p->memory[i].slot == slot)
			return true;
	return false;
}

/* The slot where the set in use has it already; 0: nowhere in that bank. */
static int former_slot(const struct matter *m, const struct plan *p, const struct memory *e,
		       int bank)
{
	const struct plan *set = m->former ? m->former->set : NULL;

	for (int i = 0; set && i < set->memories; i++) {
		const struct memory *was = &set->memory[i];
		if (was->bank == bank && was->channel == e->channel && !was->locked &&
		    !slot_taken(p, bank, was->slot))
			return was->slot;
	}
	return 0;
}

/* Whether the bank has room for one, and who is in it: nobody chatty, nor the channel itself. */
static bool fits(const struct matter *m, const struct plan *p, const struct memory *e,
		 struct place *w)
{
	const struct receiver *r = m->receiver;
	int live = 0, used = 0;

	w->slot = 1;
	for (int i = 0; i < p->memories; i++) {
		const struct memory *o = &p->memory[i];
		if (o->bank != w->bank)
			continue;
		if (o->channel == e->channel || (!o->locked && layout_chatty(m->census, o)))
			return false;
		live += !o->locked;
		used++;
		w->slot = o->slot + 1;
	}
	int had = former_slot(m, p, e, w->bank);
	w->had = had > 0;
	if (m->former)          /* a set in use keeps those it has, and gets no more */
		w->slot = had > 0 ? had : r->memories + 1;
	for (w->at = 0; w->at < p->memories; w->at++) {
		const struct memory *o = &p->memory[w->at];
		if (o->bank > w->bank || (o->bank == w->bank && o->slot > w->slot))
			break;
	}
	return used > 0 && live < r->live_per_bank && used < r->memories - r->empty_per_bank &&
	       w->slot <= r->memories;
}

static int put_in(struct plan *p, const struct place *w)
{
	const struct memory first = p->memory[w->memory];

	if (list_room((void **)&p->memory, p->memories, sizeof *p->memory) < 0)
		return -1;
	memmove(&p->memory[w->at + 1], &p->memory[w->at],
		(size_t)(p->memories - w->at) * sizeof *p->memory);
	p->memories++;
	struct memory *m = &p->memory[w->at];
	*m = first;
	m->bank = w->bank;
	m->slot = w->slot;
	m->line = 0;
	m->noted = NOTED_NOTHING;
	m->same_as = (struct memory_place){ first.bank, first.slot };
	return 0;
}

static void take_out(struct plan *p, const struct place *w)
{
	p->memories--;
	memmove(&p->memory[w->at], &p->memory[w->at + 1],
		(size_t)(p->memories - w->at) * sizeof *p->memory);
}

/* Whether some set has both banks. */
static bool together(const struct plan *p, int bank, int other)
{
	uint64_t both = UINT64_C(1) << (bank - 1) | UINT64_C(1) << (other - 1);

	for (int s = 0; s < p->sets; s++)
		if ((p->set[s].banks & both) == both)
			return true;
	return false;
}

/* What the sets with both banks gain, and those with the new one alone lose. */
static int weigh(struct merit *v, const struct plan *p, int own, int other, double *gain,
		 double *cost)
{
	uint64_t of_own = UINT64_C(1) << (own - 1), of_other = UINT64_C(1) << (other - 1);
	double more;

	if (merit_gain(v, p, of_own | of_other, 0, gain) < 0 ||
	    merit_gain(v, p, of_other, of_own, &more) < 0)
		return -1;
	*cost = -more;
	return 0;
}

/* What is added to its gain by what the set in use has. */
static double favour(const struct matter *m, const struct memory *e, const struct place *w)
{
	return w->had ? DOUBLE_KEEP : former_of(m->former, e->channel).held ? -DOUBLE_KEEP : 0;
}

/* The place by which most is gained; *most: so much. tried: places left to try. 1: there is one. */
static int best_place(const struct matter *m, struct merit *v, struct plan *p, int *tried,
		      struct place *best, double *most)
{
	int found = 0;

	*most = DOUBLE_GAIN;
	for (int i = 0; i < p->memories; i++)
		for (int bank = 1; bank <= m->receiver->banks && vital(&p->memory[i]); bank++) {
			const struct memory e = p->memory[i];
			struct place w = { .memory = i, .bank = bank };
			if (bank == e.bank || !together(p, bank, e.bank) || !fits(m, p, &e, &w) ||
			    (*tried)-- <= 0)
				continue;
			if (put_in(p, &w) < 0)
				return -1;
			double gain, cost;
			int result = weigh(v, p, e.bank, bank, &gain, &cost);
			take_out(p, &w);
			if (result < 0)
				return -1;
			/* One that is typed already stays as long as it does no harm, and none comes for little. */
			gain += favour(m, &e, &w);
			cost -= w.had ? DOUBLE_KEEP : 0;
			if (gain > *most && cost <= DOUBLE_COST) {
				*most = gain;
				*best = w;
				found = 1;
			}
		}
	return found;
}

/* Most plans have none: then nothing need be played. */
static bool any_place(const struct matter *m, const struct plan *p)
{
	for (int i = 0; i < p->memories; i++)
		for (int bank = 1; bank <= m->receiver->banks && vital(&p->memory[i]); bank++)
			if (bank != p->memory[i].bank && together(p, bank, p->memory[i].bank))
				return true;
	return false;
}

static bool priority_taken(const struct plan *p)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].priority)
			return true;
	return false;
}

int doubles_add(const struct matter *m, const struct repertoire *on, struct plan *p)
{
	struct merit v;
	int tried = DOUBLES_TRIED, result = 1;

	if (!priority_taken(p) || !any_place(m, p))
		return 0;
	if (merit_create(&v, p, m->census, m->receiver, on) < 0)
		return -1;
	for (int n = 0; n < DOUBLES_MOST && result > 0 && tried > 0; n++) {
		struct place w;
		double gain;
		for (int k = 0; k < v.sets && result > 0; k++)
			result = merit_kept(&v, p, k) < 0 ? -1 : 1;
		result = result < 0 ? -1 : best_place(m, &v, p, &tried, &w, &gain);
		if (result > 0 && put_in(p, &w) < 0)
			result = -1;
		if (result <= 0)
			break;
		struct memory *e = &p->memory[w.at];
		snprintf(e->reason, sizeof e->reason,
			 "second seat of bank %d slot %d: rehearsed, %.1f points more are heard "
			 "of what is wanted",
			 e->same_as.bank, e->same_as.slot, 100 * (gain - favour(m, e, &w)));
		merit_changed(&v, UINT64_C(1) << (w.bank - 1));
	}
	layout_recount(m->receiver, p);
	merit_free(&v);
	return result < 0 ? -1 : 0;
}
