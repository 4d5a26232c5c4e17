#ifndef BANDCENSUS_DAEMON_POST_H
#define BANDCENSUS_DAEMON_POST_H

#include "daemon/ledger.h"
#include "daemon/roster.h"
#include "daemon/watch.h"

/* One source on duty: its ears, its hops, the visit under way, and what it does
 * when the source goes away. It never waits: whoever keeps the posts does. */
struct post;

/* number: index into n->sources. Borrows n and l. Holds no hop yet. */
struct post *post_create(const struct watch *n, int number, struct ledger *l, struct fault *why);
void post_destroy(struct post *p);              /* NULL is fine */

enum post_step {
	POST_BROKEN = -2,       /* the survey can't go on, why says so               */
	POST_FAILED = -1,       /* the source can't, for good                        */
	POST_OVER = 0,          /* the source came to its end                        */
	POST_AGAIN,             /* did something: call again                         */
	POST_WAITS              /* nothing to do until what it said                  */
};

struct post_wait {
	int     descriptor;     /* until this is readable; -1: none                  */
	int64_t until_us;       /* or until then, by the watch's clock               */
};

/* Goes on as far as it can without waiting, by one look at the most. */
enum post_step post_step(struct post *p, struct post_wait *wait, struct fault *why);

/* Which hops it visits. */
struct schedule *post_schedule(const struct post *p);

/* For the roster, on the clock that is never stepped; away_us: for how long it has
 * not been able to listen. */
enum attendance post_attendance(const struct post *p, int64_t now_mono, int64_t *away_us);

int64_t post_now_us(const struct post *p);      /* UTC, end of the last block or wait */
int64_t post_now_mono(const struct post *p);    /* the same on the clock never stepped */
int64_t post_listened_us(const struct post *p); /* in all, by looks that counted      */

/* It is over: a source that is away, or failed (NULL: did not), is told of in the
 * survey. */
void post_leave(struct post *p, const struct fault *failed);

#endif
