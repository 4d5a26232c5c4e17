#ifndef BANDCENSUS_DSP_RASTER_H
#define BANDCENSUS_DSP_RASTER_H

#include "dsp/freq.h"

/* A row of equally spaced channels. step.thirds > 0 and count > 0, always. */
struct raster {
	struct freq first;      /* centre of channel 0           */
	struct freq step;       /* from one centre to the next   */
	int32_t     count;      /* channels 0 .. count-1         */
};

/* More channels than any band has: a tuner's whole 1.7 GHz on 2.5 kHz are fewer. */
#define RASTER_MOST 1000000

/* Channels at base + n * step (n whole, also negative) that lie in
 * low <= f <= high. count is 0 when there are none. */
struct raster raster_between(struct freq low, struct freq high, struct freq base, struct freq step);

struct freq raster_centre(const struct raster *r, int32_t channel);

/* Centre of the last channel. */
struct freq raster_last(const struct raster *r);

/* Nearest channel, the lower one when f lies exactly between two; -1 when f
 * is more than half a step outside the raster. */
int32_t raster_nearest(const struct raster *r, struct freq f);

#endif
