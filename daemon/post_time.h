#ifndef BANDCENSUS_DAEMON_POST_TIME_H
#define BANDCENSUS_DAEMON_POST_TIME_H

#include "daemon/watch.h"

/* A post's own time, as its source's blocks tell it, and what it lets pass. */
struct post_time {
	const struct clock  *clock;
	const volatile sig_atomic_t *stop;
	int64_t now_mono, now_us;       /* end of the last block or wait             */
	int64_t free_mono;              /* when a visit could have begun; -1: not known */
	int64_t due_us;                 /* lets time pass until then; 0: does not    */
};

struct post_time post_time(const struct watch *n, const struct source_about *about);

/* Lets time pass without listening: a virtual clock's at once, else until
 * post_time_passed says so. source's may be NULL. */
void post_time_pass(struct post_time *t, const struct watch_source *source, int64_t us);
bool post_time_passed(struct post_time *t);

/* What the visit under way has cost so far; usual_us: where that is not known. */
int64_t post_time_spent(const struct post_time *t, int64_t usual_us);

/* A block came in. */
void post_time_block(struct post_time *t, const struct block *b);

#endif
