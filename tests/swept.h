#ifndef BANDCENSUS_TESTS_SWEPT_H
#define BANDCENSUS_TESTS_SWEPT_H

#include "tests/truth.h"
#include "tools/plan/plan.h"

/* A night as a receiver without faults would survey it, sweep by sweep, straight from what was sent:
 * whole nights in no time, for what follows after the survey. Emitters alone. */

struct sweeping {
	int64_t revisit_us;             /* from one look at a channel to the next */
	int64_t dwell_us;
	int64_t warm_up_us;             /* nothing is looked at before            */
	double  margin_db;              /* kept from this strength on             */
	int     squelch_ddb;
};

/* As bandcensusd is shipped, without parks. */
struct sweeping sweeping_usual(void);

/* With how each channel is used. Fails the test where it can't. */
struct census *swept_census(const struct truth *t, const struct band *bands, int n_bands,
			    const struct sweeping *s);

struct replayed;

/* What is heard with those banks of the plan on; each, where not NULL: of each sender of the
 * truth. */
void swept_listen(const struct truth *t, const struct plan *p, const struct receiver *r, uint64_t banks,
		  double squelch_db, struct replayed *all, struct replayed *each);

#endif
