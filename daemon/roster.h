#ifndef BANDCENSUS_DAEMON_ROSTER_H
#define BANDCENSUS_DAEMON_ROSTER_H

#include <stdbool.h>
#include <stdint.h>

/* Which post has which hops. Shared out evenly by load; a post that is away hands
 * its hops over, and gets a share back when it returns. Pure: told who is there. */
#define ROSTER_POSTS 8

enum attendance {
	POST_COMING = 0,        /* at the start: warms up or learns                  */
	POST_READY,
	POST_AWAY               /* lost, or has come to its end                      */
};

struct roster {
	int             posts, hops;
	int            *post;           /* by hop: who has it                        */
	int            *home;           /* by hop: who had it first                  */
	enum attendance is[ROSTER_POSTS];
	double          cost_us[ROSTER_POSTS];  /* of a sweep's look, not following small changes */
};

/* 1 to ROSTER_POSTS posts, all alike, each with a run of neighbouring hops.
 * -1: no memory. */
int roster_create(struct roster *r, int posts, int hops, double visit_us);
void roster_free(struct roster *r);

/* What a post's looks cost by now. */
void roster_cost(struct roster *r, int post, double visit_us);

/* Moves hops until nobody away has one while another is ready, and the loads are
 * as even as whole hops allow. moved is told of each. */
void roster_share(struct roster *r, void (*moved)(void *self, int hop, int from, int to), void *self);

#endif
