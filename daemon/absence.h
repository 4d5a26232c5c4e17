#ifndef BANDCENSUS_DAEMON_ABSENCE_H
#define BANDCENSUS_DAEMON_ABSENCE_H

#include "daemon/ledger.h"
#include "daemon/post_time.h"

/* A source that went away, or can't be had on some hop: each said once, in the log
 * and in the survey, however long it lasts; a new reason for it is told anew. */
struct absence {
	const struct watch        *n;
	struct watch_source       *source;
	struct ledger             *ledger;
	int64_t                    lost_us, lost_mono;
	int                        tries;       /* in vain since then; 0: it is there     */
	char                       reason[sizeof ((struct fault *)0)->text];    /* told last ... */
	int                        told;        /* ... of so many in this absence         */
	int64_t                    asked_us;    /* first told to ask later; 0: was not    */
	bool                       met;         /* ever                                   */
	int                        gain_told;   /* that this step is taken instead        */
	int64_t                   *deaf_hour;   /* by hop: the last one that was said for */
};

/* -1: no memory. */
int absence_create(struct absence *a, const struct watch *n, int number, struct ledger *l);
void absence_free(struct absence *a);

/* It was lost, or asked in vain again: how long to leave it alone. */
int64_t absence_lost(struct absence *a, const struct post_time *t, const struct fault *why);

/* It says that samples are late: past a second, it hangs. */
#define ABSENCE_LATER_US 1000000
void absence_later(struct absence *a, int64_t now_mono);

/* Whether it is away or hangs, and for how long. */
bool absence_is(const struct absence *a, int64_t now_mono, int64_t *away_us);

/* A block came from it: the first time and after an absence its name is asked, and a gain
 * told of that it does not have. true: it is another one than before. */
bool absence_back(struct absence *a, const struct block *b);

/* A hop can't be had: said once an hour. */
void absence_deaf(struct absence *a, int hop, int64_t now_us, const struct fault *why);

/* The watch is over for it. */
void absence_end(struct absence *a, int64_t now_us);

#endif
