#ifndef BANDCENSUS_TOOLS_PLAN_FORMER_H
#define BANDCENSUS_TOOLS_PLAN_FORMER_H

#include "tools/plan/typed.h"

/* The set as it is before it is typed in anew, by its listener's list: what is in which slot, what
 * is pinned there, and what he noted. */

/* What is known of a channel from the set. */
struct former_word {
	const struct memory *fixed;     /* its pinned slot, the first; NULL: none    */
	bool                 held;      /* in any slot                               */
	enum noted           noted;     /* locked before noise before yes            */
};

struct former {
	const struct typed_list *typed;
	const struct census     *census;
	const struct receiver   *receiver;
	struct plan             *set;   /* by bank and slot; owned                   */
	struct former_word      *word;  /* of each channel; owned                    */
	struct margin            margin;
};

/* typed and the others must outlive it. -1 with why; out is fit to be freed either way. */
int former_create(const struct typed_list *typed, const char *path, const struct census *c,
		  const struct receiver *r, struct former *out, struct fault *why);
void former_free(struct former *f);     /* zeroed is fine */

/* f NULL: the set is empty. */
struct former_word former_of(const struct former *f, int channel);

/* Whether they are one station: on one channel, or, where nothing was heard, where they land. */
bool former_same(const struct memory *was, const struct memory *m);

/* What is in that slot; NULL: nothing. */
const struct memory *former_at(const struct former *f, int bank, int slot);

/* What its line of the file said. */
const struct typed *former_typed(const struct former *f, const struct memory *m);

/* How well the survey has looked where a memory without a channel would be heard. */
enum former_looked {
	FORMER_UNLOOKED = 0,            /* not at all                                */
	FORMER_PARTLY,                  /* not in all hours of the day, or in no working hour */
	FORMER_LOOKED
};
enum former_looked former_looked(const struct former *f, const struct memory *m);

/* A memory as it is in the set, whatever the survey says: place, frequency, mode and keys, and the
 * name where it has one. */
void former_hold(const struct memory *was, const struct receiver *r, const struct census *c, struct memory *out);

#endif
