#ifndef BANDCENSUS_TESTS_TOWN_WORLD_H
#define BANDCENSUS_TESTS_TOWN_WORLD_H

#include "tests/test.h"

#include "daemon/source.h"
#include "daemon/town/night.h"

#define SEED       UINT64_C(20260217)
#define MIN_US     INT64_C(60000000)
#define HOUR_US    INT64_C(3600000000)
#define RATE       2400000
#define LOOK       48000
#define CONFIG_DIR SOURCE_ROOT "/config"

/* The town that comes along, and one night in it: *state of a group of tests. */
struct world {
	struct town   town;
	struct night *night;
};

int world_build(void **state);
int world_drop(void **state);

/* Both fail the test when the town has nobody of that name. */
const struct emitter *emitter_of(const struct world *w, const char *name);
const struct over *overs_of(const struct world *w, const char *name, int *n);

/* The same town as a source; all fail the test when it does. truth may be NULL. */
void *open_town(const char *truth);
void tune_to(void *s, double mhz, double ppm, int gain_tenth_db);
struct block read_look(void *s, size_t n);

/* Moves the clock to that long after the night began. */
void wait_until(void *s, int64_t us);

#endif
