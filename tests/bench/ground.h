#ifndef BANDCENSUS_TESTS_BENCH_GROUND_H
#define BANDCENSUS_TESTS_BENCH_GROUND_H

#include "daemon/source.h"
#include "dsp/hop.h"

#define BENCH_RATE_HZ 2400000
#define BENCH_LOOK_US 20000
#define BENCH_LEARNT  128       /* looks a floor is made from, and looks of one pass */
#define BENCH_KEPT    48        /* looks of samples kept of a hop: a second of them  */

/* The hops that are measured, by how much there is to do in them. */
enum ground_name {
	GROUND_QUIET = 0,       /* nobody: 25 kHz channels                              */
	GROUND_AIR,             /* usual traffic, 8.33 kHz channels, bins of 1250 Hz    */
	GROUND_FINE,            /* usual traffic, 2.5 kHz channels, bins of 625 Hz      */
	GROUND_BROADCAST,       /* a strong broadcast station                           */
	GROUNDS
};

/* A hop of the invented town with samples of it, BENCH_KEPT looks apart in time. */
struct ground {
	const struct hop *hop;
	int               bins;
	size_t            n;            /* pairs in one look of BENCH_LOOK_US           */
	uint8_t          *iq;           /* BENCH_KEPT looks                             */
};

/* The town, its band plan and the hops, with the presets that a survey has. */
struct grounds {
	struct band     *bands;
	int              n_bands;
	struct hop_plan  plan;
	void            *town;
	int              max_seats;
	double           false_alarm, margin_db;
	double           ppm;
	int              gain_tenth_db;
	struct ground    ground[GROUNDS];
};

const char *ground_title(enum ground_name which);

/* -1 with why. Owned until grounds_free, which accepts the half-built. */
int grounds_make(struct grounds *g, struct fault *why);
void grounds_free(struct grounds *g);

/* The look-th stretch of n pairs of a ground, round and round; n is no longer
 * than a look of BENCH_LOOK_US. Borrowed from the ground. */
struct block ground_block(const struct ground *g, size_t n, int look);

/* One look of the town at a hop, as a survey takes it: tune, read, pass on. */
int grounds_visit(struct grounds *g, const struct ground *at, struct block *out, struct fault *why);

#endif
