#ifndef BANDCENSUS_DAEMON_DEAFNESS_H
#define BANDCENSUS_DAEMON_DEAFNESS_H

#include "daemon/ledger.h"
#include "dsp/deaf.h"

/* A source that delivers samples in which nothing can be heard: told once, in the log when it
 * begins and ends, in the survey when it has ended. A deafness ends with the first look
 * that hears, if none is deaf in the 3 s after; so one that comes and goes is one. */
struct deafness {
	const struct watch        *n;
	const struct watch_source *source;
	struct ledger             *ledger;
	struct deaf               *deaf;        /* NULL: it has no tuner that could be   */
	int64_t looks;                          /* deaf ones; 0: it hears                */
	double  fall_db;                        /* the furthest                          */
	int64_t from_us, until_us;              /* UTC; until 0: does not hear yet       */
	int64_t well_mono, last_mono;           /* since when; ended the last look       */
	int64_t due_mono;                       /* of the next remedy; -1: hears         */
	int     remedies;
};

/* -1: no memory. */
int deafness_create(struct deafness *d, const struct watch *n, int number, struct ledger *l);
void deafness_free(struct deafness *d);

/* After each look entered, of the block behind it. HEARING_NOTHING: it was no look. */
enum hearing deafness_follow(struct deafness *d, const struct block *b);

/* It has been so for some seconds without a break, or again as long since the last time:
 * the source is to be set up from nothing. true once each. */
bool deafness_wants_remedy(struct deafness *d);

/* It is another receiver by now. */
void deafness_forget(struct deafness *d);

/* The watch is over for it. */
void deafness_end(struct deafness *d, int64_t now_us);

#endif
