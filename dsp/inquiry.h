#ifndef BANDCENSUS_DSP_INQUIRY_H
#define BANDCENSUS_DSP_INQUIRY_H

#include "dsp/band.h"
#include "dsp/block.h"
#include "dsp/emission.h"
#include "dsp/sketch.h"
#include "dsp/subtone.h"

/* Asks of each over heard: what is it, how wide, and, while a receiver stays on its hop,
 * with which tone or code. Memory sized at the start. */
struct inquiry;

/* Overs asked about at once. */
#define INQUIRY_OVERS    256

/* Of these followed from block to block without a seam; of broadcast FM fewer, for those
 * cost more. The others are heard block by block, as in a sweep. */
#define INQUIRY_CHANNELS 16
#define INQUIRY_WIDE     2

/* For blocks of up to n samples at that rate. NULL: no memory. */
struct inquiry *inquiry_create(int32_t rate_hz, size_t n);
void inquiry_destroy(struct inquiry *q);        /* NULL is fine */

/* The next block. Whether it follows on the last is seen by its times and centre; when it
 * does not, what was gathered of an over stays. */
void inquiry_load(struct inquiry *q, const struct block *b);

/* A channel busy in it. */
struct busy {
	const struct band *bands;
	int32_t band, channel;
	double  offset_hz;      /* middle of the emission less the channel's centre */
	double  width_hz;       /* of the emission, as the look saw it              */
	double  noise;          /* power a hertz                                    */
	bool    stays;          /* more blocks of the same hop follow; a sweep's don't */
};

/* Listens to a channel of the block loaded. Nothing when all places are taken: those that
 * came first stay. What is on for long is listened to in some of a sweep's looks only. */
void inquiry_hear(struct inquiry *q, const struct busy *b);

/* What is known of an over. */
struct answer {
	struct features     features;
	enum kind           kind;
	double              confidence;
	double              stayed_s;   /* of it, heard while the receiver stayed */
	struct subtone_word below;      /* in that time                           */
};

/* The over on that channel has ended: what was found out in *out, and its place is free.
 * false when it was not listened to. */
bool inquiry_take(struct inquiry *q, int32_t band, int32_t channel, struct answer *out);

#endif
