#ifndef BANDCENSUS_DAEMON_ERRAND_H
#define BANDCENSUS_DAEMON_ERRAND_H

#include "daemon/watch.h"

/* The visit that a post is on, and what its source was told to tune to for it. A
 * tuner takes its time: where the next visit is sure already, it is ordered as soon as
 * the last look is in, and that look is judged meanwhile. */
struct errand {
	struct visit  visit;            /* under way ...                             */
	int           left;             /* ... with so many looks to come; 0: none   */
	int           overs;            /* that were seen to begin in it             */
	bool          tuned;            /* to it                                     */
	bool          ordered;          /* the source was told of the next one:      */
	int           next;             /* ... that hop, ...                         */
	int           result;           /* ... and gave this, ...                    */
	struct fault  trouble;          /* ... if -1 with this                       */
};

void errand_begin(struct errand *e, const struct visit *v);

/* No visit is under way, and nothing is ordered. */
void errand_drop(struct errand *e);

/* Tells the source, unless it knows. As its tune. */
int errand_tune(struct errand *e, const struct watch *n, const struct watch_source *is, double ppm,
		struct fault *why);

/* The last look of the visit is in: orders a sweep's look at that hop, where
 * time goes by meanwhile. */
void errand_order(struct errand *e, const struct watch *n, const struct watch_source *is,
		  double ppm, int hop);

#endif
