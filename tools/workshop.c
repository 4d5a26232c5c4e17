#include "tools/workshop.h"

#include <stdlib.h>

/* A plan that breaks a rule of the trade is a defect here; better none than a wrong one typed
 * in by hand. */
static int propose_checked(struct workshop *w, struct fault *why)
{
	char broken[200];
	const char *rule;

	w->plan = propose_again(w->census, w->suspect, &w->receiver, &w->interests,
				w->former.set ? &w->former : NULL);
	if (!w->plan)
		return fault_set(why, FAULT_FATAL, "no memory for the plan");
	licences_mark(&w->licences, w->census, w->plan);
	rule = plan_check(w->plan, &w->receiver, w->census, w->suspect, broken);
	return rule ? fault_set(why, FAULT_FATAL, "the plan breaks a rule: %s", rule) : 0;
}

int workshop_open(const struct choice *o, struct workshop *w, struct fault *why)
{
	if (o->receiver && receiver_read(o->receiver, &w->receiver, why) < 0)
		return -1;
	if (o->interests && interests_read(o->interests, &w->interests, why) < 0)
		return -1;
	if (o->licences && licences_read(o->licences, &w->licences, why) < 0)
		return -1;
	if (o->memories && !o->receiver)
		return fault_set(
			why, FAULT_INPUT,
			"--memories needs --receiver FILE, a profile of the set they are in");
	if (o->memories && typed_read(o->memories, &w->typed, why) < 0)
		return -1;
	fault_set(why, FAULT_FATAL, "no memory for the plan");
	if (!o->interests && interests_default(&w->interests) < 0)
		return -1;
	w->census = night_read(o->file[0], &o->night, why);
	if (!w->census)
		return -1;
	fault_set(why, FAULT_FATAL, "no memory for the plan");
	w->suspect = census_traffic(w->census) == 0 ? suspect_all(w->census) : NULL;
	if (!w->suspect)
		return -1;
	if (o->memories &&
	    former_create(&w->typed, o->memories, w->census, &w->receiver, &w->former, why) < 0)
		return -1;
	return o->receiver ? propose_checked(w, why) : 0;
}

void workshop_close(struct workshop *w)
{
	plan_destroy(w->plan);
	former_free(&w->former);
	typed_free(&w->typed);
	free(w->suspect);
	census_destroy(w->census);
	interests_free(&w->interests);
	licences_free(&w->licences);
}
