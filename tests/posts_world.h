#ifndef BANDCENSUS_TESTS_POSTS_WORLD_H
#define BANDCENSUS_TESTS_POSTS_WORLD_H

#include "daemon/watch.h"
#include "tests/fake_source.h"
#include "tests/survey_place.h"

/* Several fake sources, each a post on one watch over four hops. */

#define SECOND   INT64_C(1000000)
#define DAY_US   INT64_C(1772323200000000)      /* 2026-03-01T00:00:00Z */
#define AT_S     9.0            /* trouble begins; learning is over at about 4.5 s  */
#define FOR_S    25.0
#define BANDS    4

extern const struct band posts_bands[BANDS];    /* each is a hop of its own */

struct posts_outing {
	struct fake_source *fake[FAKE_POSTS];
	struct fake_clock   clock;
	int                 posts, result;
	struct fault        why;
	struct world_seen   seen;
	struct hop_plan     hops;
	int64_t             looks[BANDS], looked_us[BANDS];
	struct onlooker     onlooker;           /* see NULL: nobody */
	double              for_s, warm_up_s;   /* 0: FOR_S, none   */
};

struct posts_row {
	const char   *why;
	int           posts;
	struct script script[FAKE_POSTS];
	int           fragile;          /* the hop at which a source is lost or deaf */
	double        park_share;
	bool          waits_only;       /* makes no sense on a clock of its own      */
	const char   *incidents;        /* what of each kind, in order of the alphabet */
	double        unlooked_s;       /* no hop is left alone for longer; 0: not told */
};

#define NEVER  { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 0 }

/* On clocks of the sources' own, or one that is waited by. late: NULL, or ops to find the only
 * source by, which then warms up. The file must not be there, and the outing has its hops. */
void posts_watch(const struct place *p, const struct posts_row *r, bool waits,
		 const struct source_ops *late, struct posts_outing *o);

/* All of it, and what was kept, added up. */
struct posts_outing posts_go(const struct place *p, const struct posts_row *r, bool waits);
void posts_let_go(struct posts_outing *o);

#endif
