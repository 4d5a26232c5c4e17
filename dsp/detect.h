#ifndef BANDCENSUS_DSP_DETECT_H
#define BANDCENSUS_DSP_DETECT_H

#include <stdint.h>

#include "dsp/floor.h"
#include "dsp/hop.h"
#include "dsp/limits.h"
#include "dsp/look.h"

/* What a look says of one channel. */
enum verdict {
	VERDICT_BLIND = 0,      /* not to be judged: another's emission, skirts, overload */
	VERDICT_IDLE,           /* noise                                                  */
	VERDICT_BUSY,           /* an emission whose centre is nearest this channel       */
	VERDICT_FALSE           /* of our own making: a mirror image                      */
};

/* One emission seen in a look, on the channel nearest its centre. What lies amid two
 * channels goes to one of them, with half a step of offset, and keeps to it. */
struct finding {
	int32_t band, channel;
	int     seat;           /* index into the look's verdicts                         */
	int     first_slice, last_slice;        /* seen on from here to there, inclusive  */
	double  power;          /* in a channel's measured width while on, full scale 1   */
	double  floor;          /* noise in the same                                      */
	double  offset_hz;      /* centroid less the channel's centre                     */
	double  width_hz;       /* holds 99 % of its power                                */
};

#define FINDINGS_MAX 256

/* Judges the channels of hops that share a rate and transform length. */
struct detector;

struct detector *detector_create(const struct sense *sense, const struct look *like,
				 const float *window, int hop_samples,
				 const struct band *bands, int n_bands, int max_seats);
void detector_destroy(struct detector *d);      /* NULL is fine */

/* Power of a channel over its noise at which it opens, and at which it stays open. */
double detector_opens(const struct detector *d, int32_t band);
double detector_holds(const struct detector *d, int32_t band);

struct judged {
	const enum verdict   *verdict;  /* one a channel, in the order of the hop's spans */
	int                   seats;
	const struct finding *finding;  /* strongest first                                */
	int                   findings;
	bool                  overload;
};

/* open: for each channel in the order of the hop's spans, whether it was busy at
 * its last look. floor has judged this look. The result is borrowed until the
 * next call. */
const struct judged *detector_judge(struct detector *d, const struct look *l,
				    const struct floor *f, const struct hop *hop,
				    const bool *open);

#endif
