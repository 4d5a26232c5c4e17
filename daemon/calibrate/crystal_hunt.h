#ifndef BANDCENSUS_DAEMON_CALIBRATE_CRYSTAL_HUNT_H
#define BANDCENSUS_DAEMON_CALIBRATE_CRYSTAL_HUNT_H

#include "daemon/calibrate/listening.h"
#include "dsp/crystal.h"
#include "dsp/roll.h"
#include "store/settings.h"

/* Sweeps the hops until the crystal's error is told by who was heard. */
struct crystal_hunt {
	const struct listening_wants *on;
	const struct band  *bands;
	int                 n_bands;
	const struct freqs *references; /* known carriers                                */
	double              applied_ppm;        /* corrected for meanwhile               */
	int                 gain_tenth_db;
	double              least_ppm, most_ppm;        /* the error lies between        */
	int64_t             least_us, most_us;  /* to listen                             */
	double              enough_ppm; /* a standard error good enough to end early     */
	int                *lively;     /* counts each hop's lines; NULL: not wanted     */
};

/* What was heard, and what it says. */
struct crystal_found {
	struct crystal_verdict verdict;
	double  drift_ppm_min, drift_error;     /* how fast it still moves               */
	int64_t heard_us;                       /* for so long was listened              */
	int     n;
	struct heard heard[ROLL_MAX];           /* those who could be witnesses          */
};

/* Learns the passband first. An enum source_result: SOURCE_BLOCK when out is
 * filled, whatever its verdict. */
int crystal_hunt(struct listening *l, const struct crystal_hunt *h, struct crystal_found *out,
		 struct fault *why);

/* Why it can't be told, for after a colon. Returns out. */
char *crystal_refusal(const struct crystal_found *f, char *out, size_t size);

#endif
