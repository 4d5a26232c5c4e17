#ifndef BANDCENSUS_TOOLS_PLAN_COINCIDE_H
#define BANDCENSUS_TOOLS_PLAN_COINCIDE_H

#include <stdint.h>

struct over;                            /* tools/plan/census.h */

/* Whether the overs of one channel keep to those of another, against chance. */
struct overs {
	const struct over *o;           /* ascending                                        */
	int                n;
};

enum keeping {
	KEEP_TOGETHER = 0,              /* may have been on while one of the other was      */
	KEEP_TURNS,                     /* near one of the other, but not on at once        */
	KEEP_AT_ONCE                    /* both seen on in one sweep                        */
};

struct coincidence {
	int    overs, kept;             /* of the first channel's; those that keep to the other */
	int    exchanges;               /* of the first channel's                           */
	double expected;                /* kept by chance, mean                             */
	double chance;                  /* that so many exchanges keep to it, or more       */
};

/* Ends are taken as far out as they may lie, for looks at two hops of a sweep are not at once.
 *
 * Against chance: each exchange of the first is moved as a whole by up to half an hour either
 * way, and it is noted in what share of these places its overs would keep to the other's. So
 * the other's busy hours and exchanges stay as they are, and overs of one exchange, which are
 * no more than one witness, count once. Exchanges being independent, how many of them keep is
 * a sum of unequal trials, whose tail is added up exactly. */
void coincide(struct overs a, struct overs b, enum keeping how, struct coincidence *out);

/* Overs of the first that keep to the second: what is cheap to ask before. */
int coincide_kept(struct overs a, struct overs b, enum keeping how);

#endif
