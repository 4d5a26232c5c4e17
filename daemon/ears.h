#ifndef BANDCENSUS_DAEMON_EARS_H
#define BANDCENSUS_DAEMON_EARS_H

#include "daemon/watch.h"

#define EARS 2          /* transform lengths: one for fine rasters, one for others */

/* A post's ears: one for each transform length that hops are judged by. */
struct ears {
	struct ear *ear[EARS];
	int         bins[EARS];
};

/* look_us: length of a look. On failure what was made is for ears_free. */
int ears_create(struct ears *e, const struct watch *n, int64_t look_us, struct fault *why);
void ears_free(struct ears *e);

struct ear *ears_for(const struct ears *e, const struct hop *hop);

/* How the passband is learnt before anything is judged: from looks at all hops in
 * turn; of a recording, from looks all over it. */
struct lesson {
	int64_t blocks;         /* so far, those not learnt from too */
	int64_t stride;         /* one in so many is learnt from     */
};

struct lesson lesson_of(const struct source_about *about, int64_t look_us);
int lesson_hop(const struct lesson *l, const struct hop_plan *hops);

/* true: that was enough. */
bool lesson_learn(struct lesson *l, const struct ears *e, const struct hop *hop,
		  const struct block *b);

/* Enough is learnt for now. */
void ears_settle(const struct ears *e);

/* Channels of a hop. */
int hop_seats(const struct hop *h);

#endif
