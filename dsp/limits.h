#ifndef BANDCENSUS_DSP_LIMITS_H
#define BANDCENSUS_DSP_LIMITS_H

#include <stdbool.h>

#include "dsp/look.h"

/* How sure a look must be. */
struct sense {
	double pfa;             /* false alarms per channel and look, at most 0.2 */
	double margin_db;       /* opens at least this far over the floor         */
};

/* Power over its noise at which a stretch of a look's bins opens. */
struct limits {
	double opens, holds;            /* the whole look; and once it is open       */
	double slice_opens;             /* a slice, for bursts much shorter          */
	double slice_holds;             /* a slice is part of what is on             */
	double glance;                  /* below this in the whole look no slice is  */
					/* worth looking at                          */
};

/* For a stretch so wide that starts `from` (0 .. 1) into a bin. false: no memory. */
bool limits_set(struct limits *t, const struct sense *sense, const struct look *like,
		const float *window, int hop_samples, double from, double wide_hz);

#endif
