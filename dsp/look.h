#ifndef BANDCENSUS_DSP_LOOK_H
#define BANDCENSUS_DSP_LOOK_H

#include <math.h>
#include <stdbool.h>

#include "dsp/block.h"
#include "dsp/hop.h"
#include "dsp/spectrum.h"

#define LOOK_SLICE_US 1600      /* a slice is about this long               */
#define LOOK_SLICES_MAX 64

/* One visit: power over frequency, for the whole visit and for the short slices
 * of time it is made of. The whole is kept added up along frequency, so that the
 * power between any two edges, also inside a bin, is one subtraction: a bin cut by
 * an edge counts by the part inside. Slices are asked for few channels, and are
 * kept bin by bin. Full scale is 1. */
struct look {
	struct freq  centre;            /* true centre                                */
	int64_t      start_us, mono_us; /* of the first sample: UTC, and never stepped */
	int64_t      length_us;         /* from the first sample to the last          */
	int64_t      span_us;           /* how long was listened: less spoilt slices  */
	double       bin_hz;
	int          bins, slices;
	int          transforms;        /* in the whole look                          */
	int          slice_transforms;  /* in each slice                              */
	double      *total;             /* [bins + 1], added up: mean of good slices  */
	float       *slice;             /* [slices][bins]: power of each bin          */
	bool         spoilt[LOOK_SLICES_MAX];   /* a broadband click: not in total    */
	double       lift[LOOK_SLICES_MAX];     /* noise of a slice over the look's; 1 or more */
	int          good;              /* slices not spoilt                          */
	double       clipped;           /* share of samples at the end of the range   */
	double       quantum;           /* mean power of the converter's own steps    */
	bool         gap;               /* samples were lost in it                    */
};

/* Position of a frequency on the look's bins: 0 is the lower edge of bin 0. */
static inline double look_edge(const struct look *l, double offset_hz)
{
	return offset_hz / l->bin_hz + 0.5 * l->bins + 0.5;
}

/* Power between two positions of one added-up row; positions outside are taken
 * at the ends. from <= to. */
double look_power(const double *row, int bins, double from, double to);

/* When a slice begins, from the look's start; slices and the look's end for its
 * last argument. The outermost reach to the look's ends. */
int64_t look_slice_us(const struct look *l, int slice);

/* Samples of a look of about this length that its slices use up. */
size_t look_samples(int32_t rate_hz, int bins, int64_t us);

/* Power of each bin in a slice. */
static inline float *look_slice(const struct look *l, int slice)
{
	return l->slice + (size_t)slice * (size_t)l->bins;
}

/* Power between two positions in a slice, as look_power. */
double look_slice_power(const struct look *l, int slice, double from, double to);

/* Turns blocks of one size into looks, all memory sized at the start. */
struct channeliser;

/* n: samples a look. At least one transform must fit. NULL: no memory. */
struct channeliser *channeliser_create(int32_t rate_hz, int bins, size_t n);
void channeliser_destroy(struct channeliser *c);        /* NULL is fine */

size_t channeliser_samples(const struct channeliser *c);
const struct spectrum *channeliser_spectrum(const struct channeliser *c);

/* A look with its sizes set and nothing in it yet. */
const struct look *channeliser_like(const struct channeliser *c);

/* Looks at the first samples of a block of at least the agreed size. The look
 * is borrowed until the next call. The three bins at the tuner's own centre
 * are read off the bins beside them. */
struct look *channeliser_look(struct channeliser *c, const struct block *b);

/* Leaves spoilt slices out of total, and their time out of span_us. */
void look_leave_out(struct look *l);

/* Whether enough of the look is left to judge by: thresholds are for whole looks. */
static inline bool look_holds(const struct look *l)
{
	return !l->gap && 2 * l->good >= l->slices;
}

#endif
