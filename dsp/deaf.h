#ifndef BANDCENSUS_DSP_DEAF_H
#define BANDCENSUS_DSP_DEAF_H

#include "dsp/look.h"

/* Whether a receiver still hears. At a fixed gain its own noise never falls, so one whose
 * noise lies below the least ever met at a hop has gone deaf: its registers forgot, an
 * amplifier lost its feed. That is no quiet band. For one receiver at one gain.
 *
 * What falls in one band alone is that band's noise: lamps that go out at dawn. It is believed
 * to be when DEAF_SPELLS times in a row the hop had fallen while others heard between; where
 * no other hop could hear, it is not, for then nothing tells the two apart. */
struct deaf;

/* How far is fallen. The level of a look of 20 ms scatters by 0.02 dB (one of 5 ms at a tenth
 * of the rate by 0.2 dB, tests/test_deaf.c), a tuner's gain by some 1 dB with warmth
 * and supply (common practice), slowly, and is followed; a gain set by its calibration lies 6 dB
 * over the converter's own noise, so one that hears nothing at all falls by 7 dB. 3 dB is
 * half the noise, far from both. At a gain whose noise is less than as much over the converter's,
 * nothing is ever called deaf. */
#define DEAF_FALL_DB 3.0

#define DEAF_LEARNT  8          /* looks at a hop before it can tell               */
#define DEAF_STEP_DB 0.1        /* later a look lowers the least by no more: one   */
				/* amid which the fall began holds some of it      */
#define DEAF_SPELLS  8

struct deaf *deaf_create(int hops);     /* NULL: no memory */
void deaf_destroy(struct deaf *d);      /* NULL is fine */

/* Another receiver, or another gain. */
void deaf_reset(struct deaf *d);

enum hearing {
	HEARING_UNTOLD = 0,     /* the look tells nothing of it: gap, clicks, clipped, not learnt */
	HEARING_WELL,
	HEARING_NOTHING         /* the look is to be taken for none */
};

/* Takes a look at a hop, judged to have this noise, full scale 1. While nothing but fallen
 * looks come, a hop that is not learnt yet hears nothing either. */
enum hearing deaf_look(struct deaf *d, int hop, const struct look *l, double noise);

struct deaf_state {
	enum hearing last;      /* of the look taken last                            */
	double  fall_db;        /* ... how far below the hop's least; 0 if it hears, */
				/* or is not learnt                                  */
};

struct deaf_state deaf_state(const struct deaf *d);

#endif
