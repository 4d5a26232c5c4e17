#include "tools/plan/layout.h"

#include <stdio.h>
#include <string.h>

#include "tools/plan/scan.h"

static int scanned(const struct plan *p, uint64_t banks)
{
	int n = 0;

	for (int i = 0; i < p->memories; i++)
		n += !p->memory[i].locked && (banks >> (p->memory[i].bank - 1) & 1);
	return n;
}

void layout_recount(const struct receiver *r, struct plan *p)
{
	for (int s = 0; s < p->sets; s++) {
		p->set[s].scanned = scanned(p, p->set[s].banks);
		p->set[s].cycle_s = scan_cycle_s(p->set[s].scanned, r->scan_rate);
	}
}

static void add_set(struct plan *p, const char *name, uint64_t banks)
{
	for (int i = 0; i < p->sets; i++)
		if (p->set[i].banks == banks)
			return;         /* one of another name */
	if (p->sets == BANKSETS_MAX || banks == 0)
		return;
	if (scanned(p, banks) == 0)
		return;
	struct bankset *s = &p->set[p->sets++];
	*s = (struct bankset){ .banks = banks };
	snprintf(s->name, sizeof s->name, "%s", name);
}

struct tenancy {
	int  live, own;         /* own: without second seats */
	bool chatty, urgent, mixed;
	const char *family;
};

static void survey_bank(const struct matter *m, const struct plan *p, int bank, struct tenancy *t)
{
	*t = (struct tenancy){ .family = plan_bank_family(p, bank) };
	for (int i = 0; i < p->memories; i++) {
		const struct memory *e = &p->memory[i];
		if (e->bank != bank || e->locked)
			continue;
		t->mixed |= strcmp(t->family, e->family) != 0;
		t->live++;
		t->own += e->same_as.bank == 0;
		t->chatty |= layout_chatty(m->census, e);
		t->urgent |= layout_urgent(e);
	}
}

/* The banks of one family together, told at its first bank. */
static void family_set(const struct matter *m, struct plan *p, int bank)
{
	struct tenancy first, t;
	uint64_t banks = 0;
	bool mixed = false;
	char name[40];

	survey_bank(m, p, bank, &first);
	if (first.live == 0)
		return;
	for (int b = 1; b <= m->receiver->banks && b <= 64; b++) {
		survey_bank(m, p, b, &t);
		if (t.live == 0 || strcmp(t.family, first.family) != 0)
			continue;
		if (b < bank)
			return;
		banks |= UINT64_C(1) << (b - 1);
		mixed |= t.mixed;
	}
	snprintf(name, sizeof name, "%s%s", first.family, mixed ? " and more" : "");
	add_set(p, name, banks);
}

void layout_sets(const struct matter *m, struct plan *p)
{
	const struct receiver *r = m->receiver;
	uint64_t everyday = 0, quiet = 0;
	bool alone = false;             /* bank 1 has all that is for every day */
	int live = 0, calm = 0;

	for (int bank = 1; bank <= r->banks && bank <= 64; bank++) {
		struct tenancy t;
		survey_bank(m, p, bank, &t);
		if (t.live == 0)
			continue;
		uint64_t bit = UINT64_C(1) << (bank - 1);
		if (bank == 1 && p->everyday[0])
			alone = true;
		if (everyday == 0 ||
		    (!alone && !t.chatty && (live + t.live) <= CYCLE_S * r->scan_rate)) {
			everyday |= bit;
			live += t.live;
		}
		if (!t.chatty) {
			quiet |= bit;
			calm += t.own;
		}
	}
	add_set(p, "everyday", everyday);
	if (calm > live)                /* else it would only be less of the same */
		add_set(p, "quiet night", quiet);
	for (int bank = 1; bank <= r->banks && bank <= 64; bank++)
		family_set(m, p, bank);
	layout_recount(r, p);
}
