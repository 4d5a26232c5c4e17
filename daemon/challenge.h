#ifndef BANDCENSUS_DAEMON_CHALLENGE_H
#define BANDCENSUS_DAEMON_CHALLENGE_H

#include "daemon/onlooker.h"
#include "dsp/challenge.h"
#include "store/survey.h"
#include "store/survey.h"

/* Keeps a list of what was heard, has each line looked at from elsewhere and with
 * less gain until it is known what it is, the suspicious first, and hands out
 * what was found. One owner, one thread. */
struct challenges;

struct challenge_wants {
	const struct band     *bands;           /* all borrowed                         */
	int                    n_bands;
	const struct hop_plan *hops;
};

/* NULL: no memory. */
struct challenges *challenges_create(const struct challenge_wants *w);
void challenges_destroy(struct challenges *c);          /* NULL is fine */

/* For the watch: it asks for looks, and looks on. Both borrow c. What it finds are
 * rulings: cause is ruling_name, "real" for who was cleared. */
struct challenger challenges_asker(struct challenges *c);
struct onlooker challenges_onlooker(struct challenges *c);

#endif
