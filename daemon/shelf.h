#ifndef BANDCENSUS_DAEMON_SHELF_H
#define BANDCENSUS_DAEMON_SHELF_H

#include <signal.h>
#include <stdint.h>

#include "store/thin.h"

/* The surveys of past weeks in a folder: those named as timetable_week names them. No other file in it is
 * touched. */
struct shelf_sum {
	int     files;          /* thinned                                       */
	int64_t rows;           /* of them, joined or dropped                    */
	int     failed;         /* which did not go: damaged, or in use. Logged  */
};

/* Thins all but current (the path of this week's, which its own watch looks after), oldest first. Ages
 * count from the newest hour that any of them was looked at, and never from later than now_us: a clock
 * that is wrong does not age them, before something was surveyed by it. Work is bounded: a few files with
 * anything to do, the rest another time, and none is begun once stop is set. */
void shelf_thin(const char *folder, const char *current, const struct keep *k, int64_t now_us,
		const volatile sig_atomic_t *stop, struct shelf_sum *sum);

#endif
