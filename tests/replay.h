#ifndef BANDCENSUS_TESTS_REPLAY_H
#define BANDCENSUS_TESTS_REPLAY_H

#include "tests/truth.h"

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

/* Adds to *all, and to each[seats] where it is not NULL; whatever several seats hear counts
 * at the first. */
void replay(const struct truth *t, const struct replayer *r, struct replayed *all, struct replayed *each);

#endif
