#include "tools/plan/plan.h"

#include <stdlib.h>

static const char *const certainties[] = { "weak", "likely", "sure" };

const char *certainty_name(enum certainty c)
{
	return certainties[c];
}

void plan_destroy(struct plan *p)
{
	if (!p)
		return;
	free(p->memory);
	free(p->search);
	free(p->left);
	free(p->note);
	free(p);
}
