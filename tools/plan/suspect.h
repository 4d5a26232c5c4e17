#ifndef BANDCENSUS_TOOLS_PLAN_SUSPECT_H
#define BANDCENSUS_TOOLS_PLAN_SUSPECT_H

#include "tools/plan/census.h"

/* Why a channel may not be what it seems. */
enum suspicion {
	SUSPECT_NONE = 0,
	SUSPECT_ARTEFACT,       /* the survey itself saw that it is of our own making   */
	SUSPECT_BIRDIE,         /* a harmonic of the dongle's clock                     */
	SUSPECT_GHOST,          /* mixed from stronger ones, heard only while they are  */
	SUSPECT_SPLATTER,       /* what a far stronger neighbour spills                 */
	SUSPECT_WANDERER,       /* keeps to no frequency: a switching supply            */
	SUSPECT_CONTINUOUS,     /* real, but always on                                  */
	SUSPECT_STUCK,          /* real, with one over far longer than its others       */
	SUSPECT_COUNT
};

struct suspect {
	enum suspicion is;
	int            parent[3];       /* ghosts and splatter: channels of the census, -1 */
	char           why[200];        /* evidence, one line                              */
};

/* "birdie", "ghost", ...; NULL for SUSPECT_NONE. */
const char *suspicion_name(enum suspicion is);

/* Not a station at all: never to be typed in. */
bool suspicion_false(enum suspicion is);

/* One for each channel of the census, to be freed with free; NULL: no memory. */
struct suspect *suspect_all(const struct census *c);

#define CLOCK_HZ 28800000       /* the dongle's crystal */
#define CONTINUOUS_SHARE 0.9

#endif
