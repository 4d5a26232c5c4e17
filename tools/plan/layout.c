#include "tools/plan/layout.h"

#include "tools/plan/deal.h"
#include "tools/plan/everyday.h"
#include "tools/plan/list.h"
#include "tools/plan/scan.h"
#include "tools/plan/slots.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool layout_urgent(const struct memory *m)
{
	return strcmp(m->service, "fire") == 0 || strcmp(m->service, "ems") == 0;
}

bool layout_chatty(const struct census *c, const struct memory *m)
{
	return m->channel >= 0 && c->channel[m->channel].hold_share > CHATTY_SHARE;
}

/* Most wanted first; overs decide only who gets the last room. */
static int by_value(const void *a, const void *b)
{
	const struct judgement *const *x = a, *const *y = b;
	const struct memory *p = &(*x)->memory, *q = &(*y)->memory;

	double has = p->weight + (*x)->held * SLOTS_MOVE_COST,
	       had = q->weight + (*y)->held * SLOTS_MOVE_COST;

	if (p->fixed != q->fixed)
		return p->fixed ? -1 : 1;
	if (p->pinned != q->pinned)
		return p->pinned ? -1 : 1;
	if (has != had)
		return has > had ? -1 : 1;
	if (p->rank != q->rank)
		return p->rank - q->rank;
	if (p->certainty != q->certainty)
		return (int)q->certainty - (int)p->certainty;
	return (p->frequency.thirds > q->frequency.thirds) -
	       (p->frequency.thirds < q->frequency.thirds);
}

/* Inside a bank: what is wanted most, then up in frequency. */
static int by_place(const void *a, const void *b)
{
	const struct judgement *const *x = a, *const *y = b;
	const struct memory *p = &(*x)->memory, *q = &(*y)->memory;

	if (p->bank != q->bank)
		return p->bank - q->bank;
	if (p->weight != q->weight)
		return p->weight > q->weight ? -1 : 1;
	if (p->rank != q->rank)
		return p->rank - q->rank;
	return (p->frequency.thirds > q->frequency.thirds) -
	       (p->frequency.thirds < q->frequency.thirds);
}

struct board {
	const struct matter *m;
	struct judgement   **at;        /* kept ones, by value                  */
	int                  n;
	struct deal          deal;
	int                  live, room;
	int                 *used, *scanned;    /* of each bank, from 1         */
};

static void leave(struct judgement *j, const char *why)
{
	j->fate = FATE_LEAVE;
	snprintf(j->reason, sizeof j->reason, "%s", why);
}

static bool put(struct board *b, struct judgement *j, int bank)
{
	bool scan = j->fate == FATE_SCAN;

	if (b->used[bank] >= b->room || (scan && b->scanned[bank] >= b->live))
		return false;
	j->memory.bank = bank;
	b->used[bank]++;
	b->scanned[bank] += scan;
	return true;
}

/* How much a memory that is in that bank likes to stay there; 0: it must not. One that is locked is
 * as good anywhere; a scanned one in a bank of others costs part of its weight. */
enum liking { LIKES_NOT = 0, LIKES_AWAY, LIKES_LESS, LIKES_HOME, LIKINGS };

static enum liking liking(const struct board *b, const struct judgement *j, int bank)
{
	bool everyday = bank == 1 && everyday_kept(b->m->receiver);

	if (j->fate == FATE_LOCK)
		return everyday ? LIKES_LESS : LIKES_HOME;
	if (deal_home(&b->deal, &j->memory, bank))
		return LIKES_HOME;
	return everyday || layout_urgent(&j->memory) || deal_urgent(&b->deal, b->at, b->n, bank) ||
	       SLOTS_AWAY_LOSS * j->memory.weight > SLOTS_MOVE_COST ? LIKES_NOT : LIKES_AWAY;
}

/* Whether it could be left where the set has it. */
static bool stay(struct board *b, struct judgement *j)
{
	const struct plan *set = b->m->former ? b->m->former->set : NULL;

	for (enum liking like = LIKES_HOME; set && like > LIKES_NOT; like--)
		for (int i = 0; i < set->memories; i++) {
			const struct memory *was = &set->memory[i];
			if (!former_same(was, &j->memory) || was->fixed ||
			    liking(b, j, was->bank) != like || !put(b, j, was->bank))
				continue;
			j->memory.slot = was->slot;
			return true;
		}
	return false;
}

/* A chatty one that must share a bank with fire is kept, but locked. */
static void quieten(struct board *b, struct judgement *j)
{
	if (j->memory.locked || j->memory.fixed || !layout_chatty(b->m->census, &j->memory))
		return;
	for (int i = 0; i < b->n; i++) {
		const struct memory *o = &b->at[i]->memory;
		if (b->at[i]->fate == FATE_SCAN && o->bank == j->memory.bank && layout_urgent(o) &&
		    strcmp(o->family, j->memory.family) != 0) {
			j->memory.locked = true;
			j->memory.delay_us = 0;
			j->memory.delay_why[0] = '\0';
			snprintf(j->memory.reason, sizeof j->memory.reason,
				 "locked: so busy that fire, in the same bank, would be missed");
			return;
		}
	}
}

static void place(struct board *b, struct judgement *j)
{
	int banks = b->m->receiver->banks;
	bool in = false;

	if (j->memory.fixed) {          /* whatever room there is */
		b->used[j->memory.bank]++;
		b->scanned[j->memory.bank] += !j->memory.locked;
		return;
	}
	j->memory.slot = 0;
	if (stay(b, j))
		return;
	if (j->fate == FATE_LOCK)
		in = put(b, j, b->deal.locked);
	else
		for (int bank = 1; bank <= banks && !in; bank++)
			in = deal_home(&b->deal, &j->memory, bank) && put(b, j, bank);
	if (!in)
		leave(j, j->fate == FATE_LOCK ? "no room left for locked memories" :
		      "no room: its banks are full of what you want more");
}

/* Two entries that land on one frequency would be scanned twice. */
static void drop_doubles(struct board *b)
{
	char mhz[FREQ_TEXT], why[160];

	for (int i = 0; i < b->n; i++)
		for (int k = 0; k < i && b->at[i]->fate != FATE_LEAVE; k++)
			if (b->at[k]->fate != FATE_LEAVE && !b->at[i]->memory.fixed &&
			    b->at[k]->memory.landing.landed.thirds ==
				    b->at[i]->memory.landing.landed.thirds) {
				freq_format_mhz(mhz, b->at[k]->memory.frequency);
				snprintf(why, sizeof why, "lands on the same frequency as %s MHz",
					 mhz);
				leave(b->at[i], why);
			}
}

/* Those that have a slot keep it; the others of an empty set follow one another, and in a set in
 * use get one last of all (slots.h): until then they are numbered beyond its end. */
static void number(struct board *b)
{
	int bank = 0, slot = 0, first = b->m->former ? b->m->receiver->memories + 1 : 1;

	qsort(b->at, (size_t)b->n, sizeof *b->at, by_place);
	for (int i = 0; i < b->n; i++) {
		struct memory *m = &b->at[i]->memory;
		slot = m->bank == bank ? slot : first;
		bank = m->bank;
		if (b->at[i]->fate != FATE_LEAVE && m->slot == 0)
			m->slot = slot++;
	}
}

int layout_banks(const struct matter *m, struct judgement *j, int n)
{
	const struct receiver *r = m->receiver;
	struct board b = { .m = m, .room = r->memories - r->empty_per_bank };
	int result = -1;

	b.live = r->live_per_bank < b.room ? r->live_per_bank : b.room;
	b.at = calloc((size_t)n + 1, sizeof *b.at);
	b.used = calloc(2 * ((size_t)r->banks + 1), sizeof *b.used);
	if (!b.at || !b.used)
		goto out;
	b.scanned = b.used + r->banks + 1;
	for (int i = 0; i < n; i++)
		if (j[i].fate != FATE_LEAVE)
			b.at[b.n++] = &j[i];
	qsort(b.at, (size_t)b.n, sizeof *b.at, by_value);
	drop_doubles(&b);
	deal_banks(m, b.at, b.n, &b.deal);
	for (int i = 0; i < b.n; i++)
		if (b.at[i]->fate != FATE_LEAVE)
			place(&b, b.at[i]);
	for (int i = 0; i < b.n; i++)
		if (b.at[i]->fate != FATE_LEAVE)
			quieten(&b, b.at[i]);
	number(&b);
	result = 0;
out:
	free(b.at);
	free(b.used);
	return result;
}
