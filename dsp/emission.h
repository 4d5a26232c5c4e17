#ifndef BANDCENSUS_DSP_EMISSION_H
#define BANDCENSUS_DSP_EMISSION_H

#include <stdint.h>

#include "dsp/block.h"

/* What a signal is, as far as its samples tell. */
enum kind {
	KIND_UNKNOWN = 0,       /* not sure                                   */
	KIND_CARRIER,           /* a bare line                                */
	KIND_AM,                /* carrier and symmetric sidebands: voice     */
	KIND_NFM,               /* narrow FM voice                            */
	KIND_WFM,               /* broadcast FM                               */
	KIND_DATA,              /* keyed; digital voice too                   */
	KIND_NOISE,             /* broad, without structure                   */
	KIND_COUNT
};

/* "unknown", "carrier", "am", "nfm", "wfm", "data", "noise". */
const char *kind_name(enum kind k);

/* From this on a kind is sure: fewer than one in two hundred such words are wrong. */
#define KIND_SURE 0.9

struct features;

/* The kind of an emission sketched (dsp/sketch.h) in a channel pass_hz wide, with
 * *confidence 0 .. 1; KIND_UNKNOWN when that is below 0.6. */
enum kind features_kind(const struct features *f, double pass_hz, double *confidence);

/* One emission's traits over one look, each free of the noise's share
 * (after Azzouz and Nandi 1996). */
struct traits {
	double snr;             /* power over noise in the filtered channel            */
	double line;            /* share of the power in the strongest line:           */
				/* carrier 1, AM 0.85 .. 0.97, FM and data below 0.35   */
	double envelope;        /* variance of the power over its square: FM 0, AM > 0.1 */
	double kurtosis;        /* of the frequency over time: 2 levels 1.3, 4 levels 2, voice more */
	double swing_hz;        /* standard deviation of the frequency                 */
	double flatness;        /* of the spectrum's middle: data fills it             */
};

/* One look's word on narrow emissions; KIND_UNKNOWN below 8 dB. */
enum kind traits_kind(const struct traits *t);

/* Words of several looks at one emission. */
struct votes {
	uint16_t n[KIND_COUNT];
};

/* The kind they agree on, with *confidence 0 .. 1: a voice pauses on a bare
 * carrier, so carrier wins only when hardly a look said otherwise. */
enum kind votes_kind(const struct votes *v, double *confidence);

/* Filters one channel out of a block and measures it. Memory sized at the start. */
struct probe;

/* For blocks of n samples at that rate. NULL: no memory. */
struct probe *probe_create(int32_t rate_hz, size_t n);
void probe_destroy(struct probe *p);            /* NULL is fine */

/* Takes the block whose channels are measured next; borrowed for those calls. */
void probe_load(struct probe *p, const struct block *b);

/* Measures what lies within `measured_hz` about an offset from the block's
 * centre, in its samples [from, to). noise: mean noise power per hertz. */
void probe_measure(struct probe *p, double offset_hz, double measured_hz, double noise,
		   size_t from, size_t to, struct traits *out);

#endif
