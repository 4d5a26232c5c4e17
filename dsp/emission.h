#ifndef BANDCENSUS_DSP_EMISSION_H
#define BANDCENSUS_DSP_EMISSION_H

#include <stdint.h>

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

/* Words of several overs on one channel. */
struct votes {
	uint16_t n[KIND_COUNT];
};

/* The kind they agree on, with *confidence 0 .. 1: a voice pauses on a bare
 * carrier, so carrier wins only when hardly an over said otherwise. */
enum kind votes_kind(const struct votes *v, double *confidence);

#endif
