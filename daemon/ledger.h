#ifndef BANDCENSUS_DAEMON_LEDGER_H
#define BANDCENSUS_DAEMON_LEDGER_H

#include "daemon/outbox.h"
#include "daemon/watch.h"
#include "dsp/deaf.h"

/* Where all posts enter what they heard: overs are followed from look to look
 * whichever post looked, and the survey is told of them. */
struct ledger;

struct ledger *ledger_create(const struct watch *n, struct fault *why);
void ledger_destroy(struct ledger *l);          /* NULL is fine */

/* A look at a hop, to be judged by ear. Parked looks feed overs but no account:
 * where parks are held depends on what was heard. */
struct entry {
	int                 post;
	const struct visit *visit;      /* not a challenge                            */
	int64_t             revisit_us; /* of the post's sweeps                       */
	double              ppm;
	struct ear         *ear;
	const struct block *block;
	struct deaf        *deaf;       /* its receiver's, by hop; NULL: never is     */
};

/* Overs that were seen to begin, or -1. A look that heard nothing is none: whoever looked
 * asks deaf. */
int ledger_enter(struct ledger *l, const struct entry *e, struct fault *why);

/* A challenge's look: shown to the onlookers, else nothing. */
void ledger_show(struct ledger *l, const struct entry *e);

void ledger_incident(struct ledger *l, const char *what, int64_t at_us, int64_t until_us,
		     const char *format, ...) __attribute__((format(printf, 5, 6)));

/* Samples that came from any post: whether the computer's clock was stepped. */
void ledger_clock(struct ledger *l, const struct block *b);

/* Of the first look entered, on the clock that is never stepped; -1: none yet. */
int64_t ledger_start_mono(const struct ledger *l);

/* Commits when it is time. -1 only when it never will succeed. */
int ledger_keep(struct ledger *l, int64_t now_mono, struct fault *why);

/* The survey has become as large as it may: nothing more is to be entered. */
bool ledger_full(const struct ledger *l);

/* When ledger_keep will have something to do; INT64_MAX: nothing is held. */
int64_t ledger_due_mono(const struct ledger *l);

/* Once an hour, after it was committed: true, and what was heard in it. */
bool ledger_hour_done(struct ledger *l, struct outbox_sum *sum);
struct outbox_sum ledger_sum(struct ledger *l);         /* since the last hour */

/* Ends all overs, commits, and ends the run. */
int ledger_close(struct ledger *l, int64_t now_us, struct fault *why);

#endif
