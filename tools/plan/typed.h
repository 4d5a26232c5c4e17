#ifndef BANDCENSUS_TOOLS_PLAN_TYPED_H
#define BANDCENSUS_TOOLS_PLAN_TYPED_H

#include "tools/plan/plan.h"

/* A receiver as somebody typed it full, by plan.csv or by a list of his own. */

struct typed {
	int         line;               /* of the file                          */
	int         bank, slot;         /* from 1; slot 0: not said             */
	struct freq frequency;          /* as typed                             */
	enum mode   mode;               /* MODE_NONE: not said                  */
	double      delay_s;            /* -1: not said                         */
	bool        locked, priority, pinned;
	enum noted  noted;
	char        name[88];           /* "": not said                         */
};

#define TYPED_MOST 50000

struct typed_list {
	struct typed *at;               /* in the file's order                  */
	int           n;
};

void typed_free(struct typed_list *l);          /* zeroed is fine */

/* CSV with a head (tools/table_read.h), columns by name in any order: bank, and type_mhz (MHz) or
 * frequency_hz, of which the first is what was typed; slot, mode, delay_s, locked, priority, heard,
 * pinned and name if there; others are passed over. -1 with FILE:LINE in why; FAULT_INPUT also when it
 * has no memory in it. */
int typed_read(const char *path, struct typed_list *out, struct fault *why);

/* A delay that is not said (common practice: a reply comes within two seconds). */
#define TYPED_DELAY_S 2.0

/* The plan it is on that receiver, each memory on the census channel it would be heard on: the
 * nearest centre within half the filter of where the receiver lands; -1 where nothing was heard.
 * What is not said: the next slot, the mode of the band, TYPED_DELAY_S. What was noted as locked
 * is locked. Memories of the plan are by bank and slot, each of weight 1, and second ones of a channel are same_as the first.
 * FAULT_INPUT with PATH:LINE when the receiver can't be typed full so. NULL with why. */
struct plan *typed_plan(const struct typed_list *l, const char *path, const struct census *c,
			const struct receiver *r, struct fault *why);

/* Who is on each memory of such a plan, and how much he is wanted: service and weight by what the
 * interests or the band plan have there, and where the list gives no name the likeliest guess
 * (guess.h; none of what is no station, s has one suspicion a channel). */
void typed_who(struct plan *p, const struct census *c, const struct suspect *s, const struct interests *i);

/* Looks at the surveyed channel that a memory without one would be heard on; 0: not looked at. */
int64_t typed_looks(const struct memory *m, const struct census *c, const struct receiver *r);

#endif
