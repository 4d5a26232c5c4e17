#ifndef BANDCENSUS_TOOLS_WORKSHOP_H
#define BANDCENSUS_TOOLS_WORKSHOP_H

#include "tools/command.h"
#include "tools/night.h"
#include "tools/plan/former.h"
#include "tools/plan/propose.h"

/* All that a plan is made from, and the plan. */
struct workshop {
	struct receiver  receiver;
	struct interests interests;
	struct licences  licences;
	struct typed_list typed;        /* what is in the set; none: it is empty */
	struct former    former;
	struct census   *census;
	struct suspect  *suspect;       /* one a channel                        */
	struct plan     *plan;          /* NULL: no receiver was given          */
};

/* Reads the survey and what else the command line names, and plans for the receiver, if there is
 * one. w is zeroed before, and closed by the caller also after -1. */
int workshop_open(const struct choice *o, struct workshop *w, struct fault *why);
void workshop_close(struct workshop *w);

#endif
