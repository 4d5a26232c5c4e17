#include "tools/plan/plan.h"

#include <stdlib.h>

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
