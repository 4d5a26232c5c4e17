#ifndef BANDCENSUS_DAEMON_SHELF_H
#define BANDCENSUS_DAEMON_SHELF_H

#include <signal.h>
#include <stdint.h>

#include "store/thin.h"

/* A folder with a survey for each week, named after it (timetable_week): 2026-W48.survey, and where that one
 * can't be gone on with, 2026-W48-2.survey to -9. No other file in it is touched. */
#define SHELF_PATH 4096

/* Which survey of that week to write to: the first that these bands go on with or that is yet to be made. Those
 * passed by (of other bands, damaged, another's) are logged and left as they are. -1 with why, FAULT_RETRY: none is to
 * be had now; the next week has files of its own. */
int shelf_choose(const char *folder, const char *week, const struct band *bands, int n_bands, char out[SHELF_PATH],
		 struct fault *why);

struct shelf_sum {
	int     files;          /* thinned                                       */
	int64_t rows;           /* of them, joined or dropped                    */
	int     failed;         /* which did not go: damaged, or in use. Logged  */
};

/* Thins all but those of that week, which its own watch looks after (NULL: all), oldest first. Ages
 * count from the newest hour that any of them was looked at, and never from later than now_us: a clock
 * that is wrong does not age them, before something was surveyed by it. Work is bounded: a few files with
 * anything to do, the rest another time, and none is begun once stop is set. */
void shelf_thin(const char *folder, const char *week, const struct keep *k, int64_t now_us,
		const volatile sig_atomic_t *stop, struct shelf_sum *sum);

#endif
