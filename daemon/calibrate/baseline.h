#ifndef BANDCENSUS_DAEMON_CALIBRATE_BASELINE_H
#define BANDCENSUS_DAEMON_CALIBRATE_BASELINE_H

#include "daemon/calibrate/listening.h"
#include "store/station.h"
#include "store/survey.h"

/* What the receiver makes of its own: looked for with the antenna off, at the
 * settings of the survey, and kept in its file for readers to hold against it. */
struct baseline {
	struct listening_wants on;
	const struct station  *station;
	const struct band     *bands;
	int                    n_bands;
	struct survey         *survey;
	int64_t                run;
	double                 ppm;     /* corrected for: what the survey's looks were  */
	int64_t                for_us;  /* 0: usual                                     */
};

/* Prints what it found. */
int baseline_run(const struct baseline *b, struct fault *why);

#endif
