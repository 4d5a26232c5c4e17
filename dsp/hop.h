#ifndef BANDCENSUS_DSP_HOP_H
#define BANDCENSUS_DSP_HOP_H

#include "dsp/band.h"

/* Neighbouring channels of one band. */
struct span {
	int32_t band;                   /* index into the bands planned for   */
	int32_t first, count;
};

/* One tuner setting and the channels judged from it. */
struct hop {
	struct freq        centre;      /* half way between two channels      */
	int32_t            rate_hz;
	int32_t            bins;        /* transform length                   */
	const struct span *spans;       /* ascending; owned by the plan       */
	int                n_spans;
};

struct hop_plan {
	struct hop  *hops;              /* ascending in frequency             */
	int          n;
	struct span *spans;
	int          n_spans;
};

/* Share of the rate that is looked at: the flat middle of the passband. */
#define HOP_USABLE (5.0 / 6.0)

/* The fewest hops in which every channel of every band lies, with half its
 * width or step on either side, inside the usable middle of one hop. Each
 * channel belongs to exactly one hop. bands ascend and do not overlap.
 * 0, or -1 when there is no memory or a channel is wider than the usable width. */
int hop_plan_sweep(struct hop_plan *out, const struct band *bands, int n_bands, int32_t rate_hz);

/* The one hop of a source that can't be tuned; channels outside it belong to
 * none. 0, also when no channel lies inside; -1: no memory. */
int hop_plan_fixed(struct hop_plan *out, const struct band *bands, int n_bands, int32_t rate_hz,
		   struct freq centre);

void hop_plan_free(struct hop_plan *p);

/* Transform length for a rate and the finest step judged by it: bins of about
 * 1250 Hz, or 625 Hz below 7.5 kHz steps; even, with no prime factor over 5. */
int32_t hop_bins(int32_t rate_hz, struct freq finest_step);

#endif
