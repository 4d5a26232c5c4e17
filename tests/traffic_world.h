#ifndef BANDCENSUS_TESTS_TRAFFIC_WORLD_H
#define BANDCENSUS_TESTS_TRAFFIC_WORLD_H

#include "tests/noise.h"
#include "tools/plan/census.h"

/* One channel's traffic, and what a receiver sees of it that comes by every few seconds and
 * sometimes stays: overs as the daemon's own track makes them. Times from 0, in seconds. */

enum lengths { LENGTHS_EXPONENTIAL = 0, LENGTHS_LOGNORMAL, LENGTHS_FIXED };

struct talker {
	double       over_s, gap_s;     /* means of key down and key up          */
	enum lengths lengths;           /* log-normal: deviation 0.7 x mean      */
	double       overs;             /* in an exchange, mean (geometric)      */
	double       every_s;           /* from one exchange to the next, mean   */
	double       period_s, jitter_s;/* instead: one over each period, + one sigma */
};

struct on {
	double from_s, to_s;
};

struct spoken {
	struct on *on;                  /* ascending, apart by more than nothing */
	int        n;
};

void talker_speak(const struct talker *t, double hours, struct noise *r, struct spoken *out);
void spoken_free(struct spoken *s);

/* Means of overs that a silence of TRAFFIC_HANG_S ends, and of such silences. */
double talker_over_s(const struct talker *t);
double talker_gap_s(const struct talker *t);

struct watcher {
	double revisit_s;
	double parked;                  /* share of the time                     */
	double phase_s;                 /* of the first look                     */
	int    sweeps;                  /* looks between two rests; 0: no rests  */
	double rest_s;
};

/* What the survey keeps of the looks, hour by hour from TRAFFIC_US on; all 0 to begin with. */
#define TRAFFIC_US    INT64_C(1767225600000000)  /* 2026-01-01T00:00:00Z */
#define TRAFFIC_HOURS 24
struct watched_hours {
	struct coverage_row cover[TRAFFIC_HOURS];
	struct activity_row activity[TRAFFIC_HOURS];
};

/* The overs seen, as a census holds them; free() them. snr: power over floor. kept may be NULL. */
struct over *watcher_see(const struct watcher *w, const struct spoken *s, double hours, double snr,
			 struct noise *r, int *n, struct watched_hours *kept);

#endif
