#include "tools/plan/deal.h"

#include "tools/plan/everyday.h"
#include "tools/plan/layout.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

#define FINDS_FROM 8            /* with so many banks one is left for new finds */
#define BEYOND     (1 << 20)    /* more than any set has memories               */

static int find(const struct deal *d, const char *name)
{
	for (int i = 0; i < d->families; i++)
		if (strcmp(d->family[i].name, name) == 0)
			return i;
	return -1;
}

static struct family *family_of(struct deal *d, const struct memory *m)
{
	int i = find(d, m->family);

	if (i >= 0)
		return &d->family[i];
	if (d->families == FAMILIES_MAX)
		return &d->family[FAMILIES_MAX - 1];
	d->family[d->families] = (struct family){ .name = m->family, .weight = -1 };
	return &d->family[d->families++];
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

static bool urgent_family(const char *name, struct judgement *const *at, int n)
{
	for (int i = 0; i < n; i++)
		if (at[i]->fate == FATE_SCAN && layout_urgent(&at[i]->memory) &&
		    strcmp(at[i]->memory.family, name) == 0)
			return true;
	return false;
}

bool deal_urgent(const struct deal *d, struct judgement *const *at, int n, int bank)
{
	return d->owner[bank] >= 0 && urgent_family(d->family[d->owner[bank]].name, at, n);
}

bool deal_home(const struct deal *d, const struct memory *m, int bank)
{
	int f = find(d, m->family);

	if (f < 0)                      /* families beyond all bounds are one */
		f = d->families - 1;
	return d->family[f].banks > 0 ? d->owner[bank] == f : bank == d->shared;
}

/* How many of the banks each has for itself. */
static void share_out(struct deal *d, int banks, int live)
{
	for (int f = 0; f < d->families; f++) {
		struct family *of = &d->family[f];
		int spare = banks - (d->families - f - 1), want = (of->members + live - 1) / live;
		if (banks == 0)
			break;
		of->banks = want < spare ? want : spare > 1 ? spare : 1;
		banks -= of->banks;
	}
}

/* What the set has of each family in each bank, and of what is to be locked. */
struct habit {
	int in[FAMILIES_MAX + 1][DEAL_BANKS + 1];
};

static void habits(const struct deal *d, const struct matter *m, struct judgement *const *at, int n,
		   struct habit *h)
{
	*h = (struct habit){ 0 };
	for (int i = 0; i < n && m->former; i++) {
		const struct memory *j = &at[i]->memory;
		int f = at[i]->fate == FATE_SCAN ? find(d, j->family) : FAMILIES_MAX;
		for (int k = 0; k < m->former->set->memories && f >= 0 && j->channel >= 0; k++)
			if (m->former->set->memory[k].channel == j->channel)
				h->in[f][m->former->set->memory[k].bank]++;
	}
}

static int most_of(const int in[DEAL_BANKS + 1], const struct deal *d, int from, int banks)
{
	int best = 0;

	for (int b = from; b <= banks; b++)
		if (d->owner[b] < 0 && b != d->locked && (best == 0 || in[b] > in[best]))
			best = b;
	return best;
}

/* The greatest habit first, until none is left; then the lowest banks, family by family. */
static void assign(struct deal *d, const struct habit *h, int from, int banks)
{
	int had[FAMILIES_MAX] = { 0 };

	for (int most = 1; most > 0;) {
		int family = -1, bank = 0;
		most = 0;
		for (int f = 0; f < d->families; f++) {
			int b = had[f] < d->family[f].banks ? most_of(h->in[f], d, from, banks) : 0;
			if (b > 0 && h->in[f][b] > most) {
				most = h->in[f][b];
				family = f;
				bank = b;
			}
		}
		if (family >= 0) {
			d->owner[bank] = family;
			had[family]++;
		}
	}
	for (int f = 0; f < d->families; f++)
		for (int b = from; b <= banks && had[f] < d->family[f].banks; b++)
			if (d->owner[b] < 0 && b != d->locked) {
				d->owner[b] = f;
				had[f]++;
			}
}

/* Where those without a bank of their own go: to the last one of the last who has any. */
static int shared_bank(const struct deal *d, int banks)
{
	int last = d->families - 1;

	while (last > 0 && d->family[last].banks == 0)
		last--;
	for (int b = banks; b > 0; b--)
		if (d->owner[b] == last)
			return b;
	return 1;
}

/* Where the set has most of them and least else, the last one where none is better; 0: there is
 * none to spare. */
static int locked_bank(const struct habit *h, const struct deal *d, int locked, int scan, int banks)
{
	int best = banks, most = INT_MIN;

	for (int b = banks; b > 1; b--) {
		int more = h->in[FAMILIES_MAX][b];
		for (int f = 0; f < d->families; f++)
			more -= h->in[f][b];
		if (more > most) {
			most = more;
			best = b;
		}
	}
	return locked == 0 || scan == banks ? 0 : best;
}

void deal_banks(const struct matter *m, struct judgement *const *at, int n, struct deal *out)
{
	const struct receiver *r = m->receiver;
	int locked = 0, room = r->memories - r->empty_per_bank;
	struct habit h;

	*out = (struct deal){ 0 };
	for (int b = 0; b <= DEAL_BANKS; b++)
		out->owner[b] = -1;
	for (int i = 0; i < n; i++) {
		locked += at[i]->fate == FATE_LOCK;
		if (at[i]->fate == FATE_SCAN)
			family_of(out, &at[i]->memory)->members++;
	}
	for (int f = 0; f < out->families; f++)
		weigh(m->interests, &out->family[f]);
	qsort(out->family, (size_t)out->families, sizeof out->family[0], by_want);
	habits(out, m, at, n, &h);
	int scan = r->banks - (locked > 0) - (r->banks >= FINDS_FROM);
	if (scan < 1)
		scan = 1;
	/* Bank 1 is kept for every day, though nothing that must not wait was heard. */
	bool urgent = out->families > 0 && urgent_family(out->family[0].name, at, n);
	int from = everyday_kept(r) && out->families > 0 && !urgent ? 2 : 1;
	if (everyday_kept(r) && urgent)
		h.in[0][1] += BEYOND;   /* whatever else the set has there */
	share_out(out, scan - from + 1, r->live_per_bank < room ? r->live_per_bank : room);
	out->locked = locked_bank(&h, out, locked, scan, r->banks);
	assign(out, &h, from, r->banks);
	if (out->locked == 0)
		out->locked = r->banks;
	out->shared = shared_bank(out, r->banks);
}
