#ifndef BANDCENSUS_DSP_EAR_H
#define BANDCENSUS_DSP_EAR_H

#include "dsp/detect.h"
#include "dsp/lines.h"

/* Channeliser, floor and detector for looks of one rate, transform
 * length and size: a block goes in, verdicts come out. One owner, one thread. */
struct ear;

struct ear_wants {
	int32_t            rate_hz;
	int32_t            bins;
	size_t             samples;     /* a look; at least bins */
	struct sense       sense;
	const struct band *bands;
	int                n_bands;
	int                max_seats;   /* channels of the largest hop */
	bool               one_place;   /* see floor_create         */
};

/* NULL: no memory. */
struct ear *ear_create(const struct ear_wants *w);
void ear_destroy(struct ear *e);                /* NULL is fine */

/* Samples a look takes. */
size_t ear_samples(const struct ear *e);

/* Only looks: nothing is learnt or judged. The look is borrowed until the next call. */
const struct look *ear_glance(struct ear *e, const struct block *b);

/* Only learns the passband from a block. */
void ear_learn(struct ear *e, const struct block *b);

/* Learns the passband and judges the noise, but no channel. */
void ear_overhear(struct ear *e, const struct block *b);

/* Enough is learnt for now. */
void ear_settle(struct ear *e);

/* Judges the hop's channels from a block; open as for detector_judge. Results
 * are borrowed until the next call. */
const struct judged *ear_listen(struct ear *e, const struct block *b, const struct hop *hop,
				const bool *open);

/* The same of a look that is one of many at one place: nothing is learnt from it, or
 * what is always on there would soon be taken for the passband's shape. */
const struct judged *ear_listen_on(struct ear *e, const struct block *b, const struct hop *hop,
				   const bool *open);

/* The look behind the last verdicts. */
const struct look *ear_look(const struct ear *e);

/* Its narrow emissions, wherever they are; not of ear_glance or ear_learn. How many. */
int ear_lines(const struct ear *e, struct line out[LINES_MAX]);

/* The look behind the last verdicts was none: what ear_listen learnt from it is forgotten. */
void ear_forget(struct ear *e);

/* Noise power in the whole window at that look, full scale 1. */
double ear_noise(const struct ear *e);

/* Noise power in a channel's measured width at that look, full scale 1. */
double ear_floor(const struct ear *e, int32_t band, int32_t channel);

#endif
