#ifndef BANDCENSUS_STORE_THIN_H
#define BANDCENSUS_STORE_THIN_H

#include <stdbool.h>

#include "store/survey.h"

/* Retention: what is older is kept coarser, then not at all. Ages; 0: for ever. */
struct keep {
	int64_t minutes_us;     /* strips minute by minute; then the strongest of each hour   */
	int64_t strips_us;      /* then none: not looked, as far as the picture tells         */
	int64_t overs_us;       /* single overs; what they add up to stays in the accounts    */
	int64_t hours_us;       /* accounts hour by hour; then day by day (more_hours), for good */
};

/* Whole days are aged at once, by UTC. Runs, incidents, rulings and settings stay. */

enum thin_stage {
	THIN_MINUTES = 0, THIN_STRIPS, THIN_OVERS, THIN_COVERAGE, THIN_ACTIVITY, THIN_PARKED,
	THIN_DONE
};

/* What is under way; all zero to begin. */
struct thinning {
	enum thin_stage stage;
	int64_t         rows;   /* joined or dropped so far */
};

/* One small transaction of what is due at now_us, the newest that there is to be: 1, and it is
 * to be called again; 0: done. It may be left, killed or begun anew at any point. */
int thin_step(struct survey *s, const struct keep *k, int64_t now_us, struct thinning *t,
	      struct fault *why);

/* Start of the newest hour that was looked at; 0: none. Ages count from it, and not from a clock
 * that may be wrong. */
int thin_newest(struct survey *s, int64_t *hour_us, struct fault *why);

struct thin_sum {
	int64_t rows;                   /* joined or dropped                          */
	int64_t before_bytes, after_bytes;      /* of the file                        */
	bool    tight;                  /* the disk has no room to write it anew, so it did not shrink */
};

/* Thins a survey that nobody writes, at once, tells it as an incident of its last run, and gives what is
 * free then back to the disk. Ages count from now_us; 0: from its newest hour. What a death leaves is
 * whole, and may be thinned again. */
int survey_thin(const char *path, const struct keep *k, int64_t now_us, struct thin_sum *sum,
		struct fault *why);

#endif
