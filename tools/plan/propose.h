#ifndef BANDCENSUS_TOOLS_PLAN_PROPOSE_H
#define BANDCENSUS_TOOLS_PLAN_PROPOSE_H

#include "tools/plan/plan.h"

/* What to type into the receiver. Value first, and always the same for the same
 * census. NULL: no memory. */
struct plan *propose(const struct census *c, const struct suspect *s, const struct receiver *r,
		     const struct interests *i);

/* The same for a set in use, with the changes that lead to it (slots.h); f NULL: it is empty. */
struct former;
struct plan *propose_again(const struct census *c, const struct suspect *s, const struct receiver *r,
			   const struct interests *i, const struct former *f);

#endif
