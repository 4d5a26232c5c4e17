#ifndef BANDCENSUS_DAEMON_TOWN_SIGNAL_H
#define BANDCENSUS_DAEMON_TOWN_SIGNAL_H

#include "daemon/town/night.h"
#include "daemon/town/sound.h"
#include "daemon/town/wave.h"

/* An emitter's carrier as it stands in the window. */
struct carrier {
	double offset_hz;       /* from the window's centre              */
	double turns;           /* its phase at the block's first sample */
	double amplitude;
	double rate_hz;
};

/* Adds what an over sends to samples [from, to) of a block; re and im are those
 * of sample `from`. since_us: how long after the over's start the block began,
 * negative when before. to - from is WAVE_MOST at the most. */
void signal_add(const struct carrier *c, const struct emitter *e, const struct over *o,
		const struct sound sounds[SOUNDS], double since_us, int64_t from, int64_t to,
		float *re, float *im);

#endif
