#ifndef BANDCENSUS_TESTS_THIN_WORLD_H
#define BANDCENSUS_TESTS_THIN_WORLD_H

#include "store/picture.h"
#include "store/thin.h"
#include "tests/survey_place.h"

/* Ten days of a survey, and what they add up to. */

#define SEED   UINT64_C(20261127)
#define DAYS   10
#define START  (20000 * STRIP_DAY_US)
#define NOW    (START + DAYS * STRIP_DAY_US)
#define BAND   1
#define N      40

extern const struct keep thin_keep;
extern const struct keep thin_all;

struct thin_sums {
	int64_t looks, looked_us, floor_sum, parks, parked_us;
	int64_t busy_us, blind_us, openings, level_us[LEVEL_BINS];
	int     low, high;                      /* of the floor                   */
	int     hours, days, old_hours;         /* rows of accounts of each kind  */
	int     overs;
	int64_t oldest_over_us;
	uint64_t print;                         /* of all, in order               */
};

void thin_must(int result, const struct fault *why);    /* fails the test */

/* Writes a survey of those days there. */
void thin_write_days(const char *path);

struct thin_sums thin_sums_of(const char *path);

/* Thins by so many steps at the most, as of then (thin_steps: NOW); how many it made. */
int thin_steps_at(const char *path, const struct keep *k, int steps, int64_t now_us);
int thin_steps(const char *path, const struct keep *k, int steps);

/* Nothing that is to be kept for good was lost. */
void thin_adds_up(const struct thin_sums *before, const struct thin_sums *after);

#endif
