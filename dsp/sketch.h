#ifndef BANDCENSUS_DSP_SKETCH_H
#define BANDCENSUS_DSP_SKETCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What an emission is like over any length of time, drawn from its complex baseband
 * in frames of 16 ms or so: memory does not grow. */
struct sketch;

#define SKETCH_FRAME 400        /* samples */

/* With the transform of another one, which must outlive it; like NULL: with its own. NULL:
 * no memory. */
struct sketch *sketch_create(const struct sketch *like);
void sketch_destroy(struct sketch *s);          /* NULL is fine */

/* Starts afresh on samples at that rate, of a channel pass_hz wide whose filter passes
 * as much white noise as noise_hz do. */
void sketch_reset(struct sketch *s, double rate_hz, double pass_hz, double noise_hz);

/* More samples, in noise of so much power a hertz. What does not fill a frame waits for
 * more, or is left out after sketch_cut. */
void sketch_feed(struct sketch *s, const float _Complex *x, size_t n, double noise);
void sketch_cut(struct sketch *s);

/* What follows was sent so much later that a pause in speech would be another. */
void sketch_apart(struct sketch *s);

/* Each free of the noise's share as far as it is known (after Azzouz and Nandi 1996). */
struct features {
	int    frames;          /* that it was strong enough in                            */
	double seconds;         /* they last                                               */
	int    visits;          /* stretches so far apart (sketch_apart) that had such a frame */
	double snr;             /* power over noise in the filtered channel                */
	double lined;           /* share of frames in which one line held most of the power */
	double broken;          /* share of frames in which it came or went                */
	double line;            /* share of the power in that line, over those frames      */
	double hopping_hz;      /* standard deviation of its place from one to the next    */
	double depth;           /* variance of the power over its square, over those: AM   */
	double depth_sd;        /* how far that may be off: standard deviation             */
				/* over the other frames: */
	double envelope;        /* variance of the power over its square: FM 0, noise 1    */
	double envelope_sd;
	double kurtosis;        /* of the frequency: 2 levels 1.3, 4 levels 2, voice more  */
	double swing_hz;        /* standard deviation of the frequency                     */
	double wander;          /* of that from frame to frame, over its mean: data little */
	double flatness;        /* of the middle of the spectrum: data and noise fill it   */
				/* over all frames: */
	double fill;            /* flatness over the whole channel                         */
	double width_hz;        /* outside it lies 0.5 % of the power on either side       */
	double width_26db_hz;   /* outside it nothing is less than 26 dB down              */
	double offset_hz;       /* middle of the emission less middle of the channel       */
	double deviation_hz;    /* FM: peak                                                */
	double am_depth;        /* AM: peak, 0 .. 1                                        */
};

void sketch_take(const struct sketch *s, struct features *out);

#endif
