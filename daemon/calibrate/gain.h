#ifndef BANDCENSUS_DAEMON_CALIBRATE_GAIN_H
#define BANDCENSUS_DAEMON_CALIBRATE_GAIN_H

#include <stdbool.h>

/* Which tuner gain suits a place, from the noise at several. The noise in front of
 * the gain control rises with it, dB for dB; the converter's own stays. */
struct gain_step {
	double gain_db;
	double noise_lsb;       /* rms on each rail, in steps of the converter: median  */
	double clipped;         /* share of looks spoilt by overload ...                */
	int    looks;           /* ... of so many                                       */
};

#define GAIN_STEPS_MAX 8

/* What limits the gain. */
enum gain_limit {
	GAIN_NOISE_BELOW = 0,   /* less would let the converter's own noise in          */
	GAIN_STEPS_BELOW,       /* less would leave the noise too few steps             */
	GAIN_CLIPS_ABOVE,       /* noise asks for more, but more clips                  */
	GAIN_RANGE_ENDS,        /* noise asks for more than was tried                   */
	GAIN_ONE                /* the tuner has no other: none was tried               */
};

struct gain_advice {
	double          gain_db;
	enum gain_limit limit;
	double          own_lsb;                        /* the converter's share of the noise */
	double          over_db[GAIN_STEPS_MAX];        /* the rest over that, at each step   */
	double          rise[GAIN_STEPS_MAX];           /* dB for dB since the step before    */
};

#define GAIN_OVER_DB   6.0      /* trade practice: 6 to 10 dB ...                       */
#define GAIN_LSB       0.7      /* ... and 0.7 to 1.5 steps, so that the converter does */
				/* not add to a signal's own                            */
#define GAIN_CLIPPED   0.01     /* share of looks more clipped than at the lowest step, */
				/* and more than chance makes of it                     */

/* steps ascend in gain; n: 2 .. GAIN_STEPS_MAX. */
struct gain_advice gain_advise(const struct gain_step *step, int n);

/* Whether more looks clip at a step than at the lowest. */
bool gain_clips(const struct gain_step *step, int i);

/* dB for dB between two levels of a line: 2 or 3 where it is mixed in an
 * overloaded tuner. */
double gain_slope(double power_low, double power_high, double gain_db_more);

#define GAIN_STEEP 1.7

#endif
