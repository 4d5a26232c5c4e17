#ifndef BANDCENSUS_DAEMON_CALIBRATE_CALIBRATE_H
#define BANDCENSUS_DAEMON_CALIBRATE_CALIBRATE_H

#include "daemon/calibrate/gain.h"
#include "daemon/calibrate/listening.h"
#include "store/station.h"

/* What the receiver itself gets wrong: its crystal, told from who keeps to which
 * channels, and the gain that suits the place. */
struct calibrate {
	struct listening_wants on;
	const struct station  *station;
	const struct band     *bands;
	int                    n_bands;
	int64_t                for_us;  /* to listen for the crystal at the most; 0: usual */
};

/* Warms up, listens, prints what was found and the settings to write. -1 with why
 * when the crystal's error can't be told (FAULT_FATAL), or the source fails. */
int calibrate_run(const struct calibrate *c, struct fault *why);

/* Tries gains at lively hops and at others, prints what they do, and says which
 * one to take. An enum source_result. lively: lines counted at each hop. */
int calibrate_gain(const struct calibrate *c, struct listening *l, double ppm, const int *lively,
		   struct gain_advice *advice, struct fault *why);

#endif
