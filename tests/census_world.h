#ifndef BANDCENSUS_TESTS_CENSUS_WORLD_H
#define BANDCENSUS_TESTS_CENSUS_WORLD_H

#include "tests/test.h"

#include "tests/night_world.h"
#include "tools/plan/census.h"

/* One invented night up to its census; all fail the test where they can't. */
struct night {
	struct tally *tally;
};

void night_begin(struct night *n, int squelch_ddb, int hours);
void night_add(struct night *n, struct world_over o);
struct census *night_end(struct night *n);

const struct channel *channel_at(const struct census *c, int32_t band, int32_t channel); /* or NULL */

#endif
