#ifndef BANDCENSUS_TESTS_REPLAY_H
#define BANDCENSUS_TESTS_REPLAY_H

#include "tests/truth.h"

/* What is promised may be so many points off, and besides what chance does to the share of
 * a few exchanges: two standard deviations of it
 * where they are fewer than a hundred. */
#define PROMISE_POINTS 5.0

struct replayed;
double replay_slack(const struct replayed *got);        /* in points */

/* A scanning receiver over what was really on the air, instant by instant, written plainly and
 * apart from tools/plan/rehearse.h: what its listener hears. */

struct tuned {
	double hz, half_hz;             /* landed on; half its filter     */
	double delay_s;
};

struct replayed {
	int overs, heard;               /* of senders inside the filter   */
	int exchanges, met;             /* overs less than 8 s apart      */
	double air_s, heard_s;
};

struct replayer {
	const struct tuned *seat;
	int                 seats;
	double              look_s;     /* a look                         */
	const struct tuned *prior;      /* NULL: none                     */
	double              prior_s;    /* from one look at it to the next */
	double              squelch_db;
};

/* Adds to *all what is in the seats, once, and to each[senders of the truth] where it is not NULL. */
void replay(const struct truth *t, const struct replayer *r, struct replayed *all, struct replayed *each);

#endif
