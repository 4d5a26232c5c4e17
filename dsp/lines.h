#ifndef BANDCENSUS_DSP_LINES_H
#define BANDCENSUS_DSP_LINES_H

#include "dsp/floor.h"
#include "dsp/look.h"

/* An emission where it is, whatever channels there may be. */
struct line {
	double hz;              /* its middle: centroid of its power                 */
	double width_hz;        /* holds 99 % of its power                           */
	double power;           /* noise taken off, full scale 1                     */
	double over;            /* power over noise in the middle 5 kHz              */
};

#define LINES_MAX 64

/* The narrow emissions of a look in its usable middle, strongest over the noise
 * first: 10 dB over the noise or more, 25 kHz wide or less, and neither skirt nor image of
 * a stronger one. floor has judged this look; freedom: degrees of three
 * neighbouring bins. How many; none from a look with clipped samples. */
int lines_find(const struct look *l, const struct floor *f, double freedom,
	       struct line out[LINES_MAX]);

#endif
