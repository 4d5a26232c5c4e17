#include "tools/plan/plan.h"

#include <stdlib.h>
#include <string.h>

static const char *const certainties[] = { "weak", "likely", "sure" };

const char *certainty_name(enum certainty c)
{
	return certainties[c];
}

const char *noted_name(enum noted n)
{
	static const char *const name[NOTED_COUNT] = { "", "yes", "noise", "locked" };

	return name[n];
}

const char *slot_step_name(enum slot_step s)
{
	static const char *const name[SLOT_STEPS] = { "keep", "adjust", "replace", "new", "clear" };

	return name[s];
}

/* How many scanned ones of that family the plan itself has put there. */
static int put_there(const struct plan *p, int bank, const char *family)
{
	int n = 0;

	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		n += m->bank == bank && !m->locked && !m->fixed && !m->kept &&
		     m->same_as.bank == 0 && strcmp(m->family, family) == 0;
	}
	return n;
}

const char *plan_bank_family(const struct plan *p, int bank)
{
	const char *best = NULL;

	for (int i = 0; i < p->memories; i++) {
		const char *family = p->memory[i].family;
		if (p->memory[i].bank == bank &&
		    (!best || put_there(p, bank, family) > put_there(p, bank, best)))
			best = family;
	}
	return best;
}

void plan_destroy(struct plan *p)
{
	if (!p)
		return;
	free(p->memory);
	free(p->search);
	free(p->left);
	free(p->note);
	free(p->change);
	attenuator_free(&p->attenuator);
	unknown_free(&p->unknown);
	free(p);
}
