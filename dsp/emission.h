#ifndef BANDCENSUS_DSP_EMISSION_H
#define BANDCENSUS_DSP_EMISSION_H

#include "dsp/freq.h"

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

#endif
