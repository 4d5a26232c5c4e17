#ifndef BANDCENSUS_TESTS_PAINTED_H
#define BANDCENSUS_TESTS_PAINTED_H

#include "tests/test.h"

#include <math.h>

#include "dsp/detect.h"
#include "dsp/floor.h"
#include "dsp/hop.h"
#include "dsp/look.h"

/* Looks painted bin by bin over even noise: every power is exact, and so is what is to be
 * judged of it. 600 kHz about 150 MHz; 24 channels of 12.5 kHz, ten bins each, of which the
 * middle six are measured; the tuner stands amid channels 11 and 12. */
#define PAINTED_RATE     600000
#define PAINTED_BINS     480
#define PAINTED_SLICES   12
#define PAINTED_CHANNELS 24
#define PAINTED_SEATS    32     /* room for more of another band */
#define PAINTED_NOISE    1e-9   /* mean power of each bin */

struct painted {
	struct look  look;
	double       total[PAINTED_BINS + 1];
	float        slice[PAINTED_SLICES][PAINTED_BINS];
	float        window[PAINTED_BINS];
	struct band  band[2];
	int          n_bands;
	struct span  span[2];
	struct hop   hop;
	struct floor *floor;
	struct detector *detector;
	bool         open[PAINTED_SEATS];
};

/* The bin in whose middle a channel's centre lies. */
static inline int painted_bin(int channel)
{
	return PAINTED_BINS / 2 + 5 + 10 * (channel - PAINTED_CHANNELS / 2);
}

/* A fresh look, and the noise learnt from it. No detector yet. */
void painted_open(struct painted *p);
void painted_close(struct painted *p);

/* Judges the hop's channels, 24 of one band unless they were changed. */
void painted_detector(struct painted *p, struct sense sense);

/* Nothing but noise. */
void painted_clear(struct painted *p);

/* Adds to bins first .. last, in slices from .. to, so many times the noise. */
void paint(struct painted *p, int first, int last, int from, int to, double ratio);

/* All of it is there: adds up, and finds the noise. */
void painted_done(struct painted *p);

const struct judged *painted_judge(struct painted *p);

static inline double ratio_of(double db)
{
	return pow(10, db / 10);
}

#endif
