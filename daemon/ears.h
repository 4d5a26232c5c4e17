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

/* Enough was learnt for now. */
void ears_settle(const struct ears *e);

/* Channels of a hop. */
int hop_seats(const struct hop *h);

#endif
