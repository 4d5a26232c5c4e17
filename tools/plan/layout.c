#include "tools/plan/layout.h"

#include "tools/plan/everyday.h"
#include "tools/plan/list.h"
#include "tools/plan/scan.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FINDS_FROM 8            /* with so many banks one is left for new finds */

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

	if (p->pinned != q->pinned)
		return p->pinned ? -1 : 1;
	if (p->weight != q->weight)
		return p->weight > q->weight ? -1 : 1;
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

#define FAMILIES_MAX 64

struct family {
	const char *name;
	double      weight;             /* the most that any of its services has, heard or not, */
	int         rank;               /* and the first such service among the interests       */
	int         members, first, banks;      /* its banks: first .. first+banks-1 */
};

struct board {
	const struct matter *m;
	struct judgement   **at;        /* kept ones, by value                  */
	int                  n;
	struct family        family[FAMILIES_MAX];
	int                  families;
	int                  live, room, scan_banks, locked_bank;
	int                 *used, *scanned;    /* of each bank, from 1         */
};

static void leave(struct judgement *j, const char *why)
{
	j->fate = FATE_LEAVE;
	snprintf(j->reason, sizeof j->reason, "%s", why);
}

static struct family *family_of(struct board *b, const struct memory *m)
{
	for (int i = 0; i < b->families; i++)
		if (strcmp(b->family[i].name, m->family) == 0)
			return &b->family[i];
	if (b->families == FAMILIES_MAX)
		return &b->family[FAMILIES_MAX - 1];
	b->family[b->families] = (struct family){ .name = m->family, .weight = -1 };
	return &b->family[b->families++];
}

/* Not by who was heard: one channel more must not send a family to other banks. */
static void weigh(const struct interests *of, struct family *f)
{
	f->rank = of->services;
	for (int i = 0; i < of->services; i++)
		if (strcmp(of->service[i].family, f->name) == 0 &&
		    of->service[i].weight > f->weight) {
			f->weight = of->service[i].weight;
			f->rank = i;
		}
}

static int by_want(const void *a, const void *b)
{
	const struct family *x = a, *y = b;

	if (x->weight != y->weight)
		return x->weight > y->weight ? -1 : 1;
	if (x->rank != y->rank)
		return x->rank - y->rank;
	return strcmp(x->name, y->name);
}

static bool urgent_family(const struct board *b, const struct family *f)
{
	for (int i = 0; i < b->n; i++)
		if (b->at[i]->fate == FATE_SCAN && layout_urgent(&b->at[i]->memory) &&
		    strcmp(b->at[i]->memory.family, f->name) == 0)
			return true;
	return false;
}

/* Families come in the order of their most wanted service and take banks while
 * there are any; the rest share the last one. */
static void deal(struct board *b)
{
	int next = 1;

	for (int i = 0; i < b->n; i++)
		if (b->at[i]->fate == FATE_SCAN)
			family_of(b, &b->at[i]->memory)->members++;
	for (int f = 0; f < b->families; f++)
		weigh(b->m->interests, &b->family[f]);
	qsort(b->family, (size_t)b->families, sizeof b->family[0], by_want);
	/* Bank 1 is kept for every day, though nothing that must not wait was heard. */
	if (everyday_kept(b->m->receiver) && b->families > 0 && !urgent_family(b, &b->family[0]))
		next = 2;
	for (int f = 0; f < b->families; f++) {
		struct family *of = &b->family[f];
		int spare = b->scan_banks - next + 1 - (b->families - f - 1);
		int want = (of->members + b->live - 1) / b->live;
		of->first = next;
		of->banks = want < spare ? want : spare > 1 ? spare : 1;
		if (next + of->banks <= b->scan_banks)
			next += of->banks;
		else
			next = b->scan_banks;
	}
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

/* A chatty one that must share a bank with fire is kept, but locked. */
static void quieten(struct board *b, struct judgement *j)
{
	if (j->memory.locked || !layout_chatty(b->m->census, &j->memory))
		return;
	for (int i = 0; i < b->n; i++) {
		const struct memory *o = &b->at[i]->memory;
		if (b->at[i]->fate == FATE_SCAN && o->bank == j->memory.bank && layout_urgent(o) &&
		    strcmp(o->family, j->memory.family) != 0) {
			j->memory.locked = true;
			j->memory.delay_us = 0;
			snprintf(j->memory.reason, sizeof j->memory.reason,
				 "locked: so busy that fire, in the same bank, would be missed");
			return;
		}
	}
}

static void place(struct board *b, struct judgement *j)
{
	bool in = false;

	if (j->fate == FATE_LOCK) {
		in = put(b, j, b->locked_bank);
	} else {
		struct family *f = family_of(b, &j->memory);
		for (int k = 0; k < f->banks && !in; k++)
			in = put(b, j, f->first + k);
	}
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
			if (b->at[k]->fate != FATE_LEAVE &&
			    b->at[k]->memory.landing.landed.thirds ==
				    b->at[i]->memory.landing.landed.thirds) {
				freq_format_mhz(mhz, b->at[k]->memory.frequency);
				snprintf(why, sizeof why, "lands on the same frequency as %s MHz",
					 mhz);
				leave(b->at[i], why);
			}
}

static void number(struct board *b)
{
	int bank = 0, slot = 0;

	qsort(b->at, (size_t)b->n, sizeof *b->at, by_place);
	for (int i = 0; i < b->n; i++) {
		struct judgement *j = b->at[i];
		if (j->fate == FATE_LEAVE)
			continue;
		slot = j->memory.bank == bank ? slot + 1 : 1;
		bank = j->memory.bank;
		j->memory.slot = slot;
	}
}

int layout_banks(const struct matter *m, struct judgement *j, int n)
{
	const struct receiver *r = m->receiver;
	struct board b = { .m = m, .room = r->memories - r->empty_per_bank };
	int locked = 0, result = -1;

	b.live = r->live_per_bank < b.room ? r->live_per_bank : b.room;
	b.at = calloc((size_t)n + 1, sizeof *b.at);
	b.used = calloc(2 * ((size_t)r->banks + 1), sizeof *b.used);
	if (!b.at || !b.used)
		goto out;
	b.scanned = b.used + r->banks + 1;
	for (int i = 0; i < n; i++)
		if (j[i].fate != FATE_LEAVE) {
			b.at[b.n++] = &j[i];
			locked += j[i].fate == FATE_LOCK;
		}
	qsort(b.at, (size_t)b.n, sizeof *b.at, by_value);
	drop_doubles(&b);
	b.locked_bank = r->banks;
	b.scan_banks = r->banks - (locked > 0) - (r->banks >= FINDS_FROM);
	if (b.scan_banks < 1)
		b.scan_banks = 1;
	deal(&b);
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

/* ---- priority ---- */

#define PRIORITY_LOOK_S 2.0     /* from look to look (common practice)        */
#define PRIORITY_LOAD   0.05    /* a busier one would take the set over       */
#define PRIORITY_DB     12.0
#define STEADY_DB       3.0     /* one station, always as strong              */

void layout_priority(const struct matter *m, struct plan *p)
{
	double best = 0;
	int at = -1;

	for (int i = 0; i < p->memories; i++) {
		const struct memory *e = &p->memory[i];
		if (e->locked || e->channel < 0 || e->weight < 5 || e->certainty == CERTAIN_WEAK)
			continue;
		const struct channel *ch = &m->census->channel[e->channel];
		double cycle = p->sets ? p->set[0].cycle_s : CYCLE_S;
		double value = e->weight * (1.01 - scan_catch(ch->over_s, cycle));
		if (ch->occupancy >= PRIORITY_LOAD || ch->level_db < PRIORITY_DB ||
		    ch->spread_db > STEADY_DB || (ch->kind != KIND_AM && ch->kind != KIND_NFM))
			continue;
		/* Weight first: a better catch of something else is no comfort. */
		if (at < 0 || e->weight > p->memory[at].weight ||
		    (e->weight == p->memory[at].weight && value > best)) {
			best = value;
			at = i;
		}
	}
	if (m->receiver->priorities < 1 || at < 0) {
		snprintf(
			p->priority, sizeof p->priority, "%s",
			m->receiver->priorities < 1
				? "none: this receiver has no priority channel"
				: "none: nothing wanted is voice, steady, 12 dB strong and on less than 5 % of the time");
		return;
	}
	char mhz[FREQ_TEXT];
	p->memory[at].priority = true;
	snprintf(
		p->priority, sizeof p->priority,
		"%s MHz: looked at every %.0f s, it misses little, and it is on only %.1f %% of the time",
		freq_format_mhz(mhz, p->memory[at].frequency), PRIORITY_LOOK_S,
		100 * m->census->channel[p->memory[at].channel].occupancy);
}
