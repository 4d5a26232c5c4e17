#ifndef BANDCENSUS_TESTS_POINTS_H
#define BANDCENSUS_TESTS_POINTS_H

#include "tests/proof_world.h"

/* The 25 points by which somebody who has programmed such receivers for years marks a plan
 * (common practice), each judged from what the user gets, from the receiver's profile and from
 * what was really sent; nothing of the planner's own is asked. */

struct evidence {
	const struct proof *of;
	int                 run, receiver;
	json_t             *plan, *channels;
	json_t             *again;      /* the same once more                                */
	json_t             *later;      /* after one more night in which nothing was heard   */
	json_t             *louder;     /* read with a squelch 6 dB higher                   */
	json_t             *old;        /* for a set that has proof_old in it                */
	char               *sheet;
	/* Channels of the survey's minutes in which nobody listened: */
	int                 dark_looked;        /* that count as looked at */
	int                 dark;               /* all                     */
};

#define POINTS            25
#define POINTS_WORDS      300

struct point {
	const char *rule;
	/* True when the plan keeps it; else words say how not. */
	bool (*kept)(const struct evidence *e, char words[POINTS_WORDS]);
	void (*harm)(struct evidence *e);       /* breaks it */
};

extern const struct point points[POINTS];       /* [0] is point 1 */

/* What was told, in copies of its own: harm leaves the others whole. */
struct evidence evidence_gather(const struct proof *p, int run, int receiver);
struct evidence evidence_copy(const struct evidence *e);
void evidence_free(struct evidence *e);

#endif
