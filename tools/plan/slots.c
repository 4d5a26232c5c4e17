#include "tools/plan/slots.h"

#include "tools/plan/list.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Who has a slot while they are dealt out. */
enum tenant {
	SLOT_EMPTY = 0,
	SLOT_TAKEN,
	SLOT_LEAVING,           /* what is in it goes           */
	SLOT_SILENT,            /* nothing was heard on it     */
	SLOT_UNLOOKED           /* nobody looked there          */
};

struct rack {
	const struct matter *m;
	struct plan         *p;
	enum tenant         *tenant;    /* by bank and slot             */
	struct memory       *silent;    /* what may stay, by bank and slot */
	int                  silents;
};

static enum tenant *tenant_of(const struct rack *k, int bank, int slot)
{
	return &k->tenant[(bank - 1) * k->m->receiver->memories + slot - 1];
}

static bool numbered(const struct rack *k, const struct memory *m)
{
	return m->fixed || (m->slot <= k->m->receiver->memories && m->same_as.bank == 0);
}

/* Nothing was heard there, and it may stay. */
static int add_silent(struct rack *k, const struct memory *was)
{
	struct memory m;

	if (judge_silent(k->m, was, &m) < 0)
		return 0;
	for (int i = 0; i < k->p->memories; i++)        /* pinned, and in its own slot or home */
		if (former_same(was, &k->p->memory[i]))
			return 0;
	enum former_looked looked = former_looked(k->m->former, was);
	/* Silence in all hours says enough, and so does noise on the set with none in the survey.
	 */
	if (looked == FORMER_LOOKED || (looked == FORMER_PARTLY && was->noted == NOTED_NOISE))
		return 0;
	if (list_room((void **)&k->silent, k->silents, sizeof m) < 0)
		return -1;
	k->silent[k->silents++] = m;
	*tenant_of(k, m.bank, m.slot) = looked == FORMER_UNLOOKED ? SLOT_UNLOOKED : SLOT_SILENT;
	return 0;
}

/* The set as it is, then what has a slot already. */
static int move_in(struct rack *k)
{
	const struct plan *set = k->m->former->set;

	for (int i = 0; i < set->memories; i++) {
		const struct memory *was = &set->memory[i];
		*tenant_of(k, was->bank, was->slot) = SLOT_LEAVING;
		if (was->channel < 0 && !was->fixed && add_silent(k, was) < 0)
			return -1;
	}
	for (int i = 0; i < k->p->memories; i++)
		if (numbered(k, &k->p->memory[i]))
			*tenant_of(k, k->p->memory[i].bank, k->p->memory[i].slot) = SLOT_TAKEN;
	return 0;
}

/* A second seat takes the one that its channel had in that bank. */
static bool reseat(struct rack *k, struct memory *m)
{
	const struct plan *set = k->m->former->set;

	for (int i = 0; i < set->memories; i++) {
		const struct memory *was = &set->memory[i];
		enum tenant *t = tenant_of(k, was->bank, was->slot);
		if (was->channel != m->channel || was->bank != m->bank || *t != SLOT_LEAVING)
			continue;
		m->slot = was->slot;
		*t = SLOT_TAKEN;
		return true;
	}
	return false;
}

static int first_of(const struct rack *k, int bank, enum tenant is)
{
	for (int slot = 1; slot <= k->m->receiver->memories; slot++)
		if (*tenant_of(k, bank, slot) == is)
			return slot;
	return 0;
}

static int full(const struct rack *k, int bank)
{
	int n = 0;

	for (int slot = 1; slot <= k->m->receiver->memories; slot++) {
		enum tenant is = *tenant_of(k, bank, slot);
		n += is != SLOT_EMPTY && is != SLOT_LEAVING;
	}
	return n;
}

/* layout_banks sees to it that there is one. */
static void seat(struct rack *k, struct memory *m)
{
	const struct receiver *r = k->m->receiver;
	static const enum tenant roomy[] = { SLOT_LEAVING, SLOT_EMPTY, SLOT_SILENT, SLOT_UNLOOKED },
				 tight[] = { SLOT_SILENT, SLOT_UNLOOKED, SLOT_LEAVING, SLOT_EMPTY };
	const enum tenant *wanted =
	    full(k, m->bank) < r->memories - r->empty_per_bank ? roomy : tight;

	m->slot = 0;
	for (size_t i = 0; i < sizeof roomy / sizeof roomy[0] && m->slot == 0; i++)
		m->slot = first_of(k, m->bank, wanted[i]);
	*tenant_of(k, m->bank, m->slot) = SLOT_TAKEN;
}

static int by_slot(const void *a, const void *b)
{
	const struct memory *x = a, *y = b;

	return x->bank != y->bank ? x->bank - y->bank : x->slot - y->slot;
}

/* The first seat that had that place before the slots were given; -1: none. */
static int first_seat(const struct plan *p, const struct memory_place *before,
		      struct memory_place of)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].same_as.bank == 0 && before[i].bank == of.bank &&
		    before[i].slot == of.slot)
			return i;
	return -1;
}

/* Second seats name their first by where it is now. */
static void name_firsts(struct plan *p, const struct memory_place *before)
{
	for (int i = 0; i < p->memories; i++) {
		struct memory *m = &p->memory[i];
		int first = m->same_as.bank ? first_seat(p, before, m->same_as) : -1;
		if (first < 0)
			continue;
		m->same_as = (struct memory_place){ p->memory[first].bank, p->memory[first].slot };
		if (!m->fixed)
			snprintf(m->reason, sizeof m->reason, "second seat of bank %d slot %d",
				 m->same_as.bank, m->same_as.slot);
	}
}

static int seat_all(struct rack *k)
{
	struct plan *p = k->p;
	struct memory_place *before = calloc((size_t)p->memories + 1, sizeof *before);
	bool *seated = calloc((size_t)p->memories + 1, sizeof *seated);
	int result = -1;

	if (!before || !seated)
		goto out;
	for (int i = 0; i < p->memories; i++) {
		struct memory *m = &p->memory[i];
		before[i] = (struct memory_place){ m->bank, m->slot };
		seated[i] = numbered(k, m) || (m->same_as.bank && reseat(k, m));
	}
	for (int i = 0; i < p->memories; i++)
		if (!seated[i])
			seat(k, &p->memory[i]);
	name_firsts(p, before);
	result = 0;
out:
	free(before);
	free(seated);
	return result;
}

/* What nobody took the slot of stays; scanned only where the bank has room for that. */
static int keep_silent(struct rack *k)
{
	struct plan *p = k->p;

	for (int i = 0; i < k->silents; i++) {
		struct memory m = k->silent[i];
		int live = 0;
		if (*tenant_of(k, m.bank, m.slot) == SLOT_TAKEN)
			continue;
		for (int n = 0; n < p->memories; n++)
			live += p->memory[n].bank == m.bank && !p->memory[n].locked;
		if (!m.locked && live >= k->m->receiver->live_per_bank) {
			m.locked = true;
			snprintf(m.reason, sizeof m.reason,
				 "kept, but locked: its bank is scanned through %d others", live);
		}
		if (list_room((void **)&p->memory, p->memories, sizeof m) < 0)
			return -1;
		p->memory[p->memories++] = m;
	}
	return 0;
}

int slots_settle(const struct matter *m, struct plan *p)
{
	const struct receiver *r = m->receiver;
	struct rack k = { .m = m, .p = p };
	int result = -1;

	if (!m->former)
		return 0;
	k.tenant = calloc((size_t)r->banks * (size_t)r->memories, sizeof *k.tenant);
	if (!k.tenant || move_in(&k) < 0 || seat_all(&k) < 0 || keep_silent(&k) < 0)
		goto out;
	if (p->memories > 1)
		qsort(p->memory, (size_t)p->memories, sizeof *p->memory, by_slot);
	result = 0;
out:
	free(k.tenant);
	free(k.silent);
	return result;
}
