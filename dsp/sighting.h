#ifndef BANDCENSUS_DSP_SIGHTING_H
#define BANDCENSUS_DSP_SIGHTING_H

#include <stdbool.h>

#include "dsp/look.h"

/* What one look shows at one frequency, against the noise right beside it: no
 * floor, no channel and no past is asked. */
struct sighting {
	bool   tried;           /* it could have been seen: inside the window, off its middle, */
				/* and the look is fit to judge by                     */
	bool   seen;
	double hz;              /* where it is, as displayed                           */
	double power_db;        /* dBFS, noise taken off; not seen: the most that could hide */
	double sigma_db;        /* of that, one standard deviation                     */
	double over_db;         /* the same over the noise in the width                */
	double line;            /* share of it in one line: a bare carrier has 1       */
};

/* Looks at what lies within wide_hz about hz. window and hop: of the transforms
 * behind the look. */
struct sighting sighting_take(const struct look *l, const float *window, int hop, double hz,
			      double wide_hz);

#endif
