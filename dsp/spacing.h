#ifndef BANDCENSUS_DSP_SPACING_H
#define BANDCENSUS_DSP_SPACING_H

#include <stdbool.h>

#include "dsp/comb.h"
#include "dsp/raster.h"

/* Which raster those heard in a band keep to. Each step and offset is weighed by the
 * marginal likelihood of all centres (dsp/comb.h), over the transmitters' spread and a
 * common error that the correction of the crystal left. A finer raster fits as
 * well, but explains less: eight channels that all lie on every second one of its own
 * would be chance once in 2^8. */

/* Channels at offset + n * step. 0 <= offset < step. */
struct spacing {
	struct freq step, offset;
};

struct spacing spacing_of(const struct raster *r);

/* Every channel of inner is one of outer too. */
bool spacing_holds(const struct spacing *outer, const struct spacing *inner);

/* From the nearest channel, in hertz. */
double spacing_beside(const struct spacing *s, double hz);

#define SPACING_ODDS 100.0      /* from which the answer is sure, against all others together */

enum spacing_word {
	SPACING_TOO_FEW = 0,    /* fewer than two centres: no guess at all         */
	SPACING_NOT_SURE,       /* others explain them nearly as well              */
	SPACING_NONE,           /* that they keep to no raster is likelier         */
	SPACING_SURE
};

struct spacing_verdict {
	enum spacing_word word;
	struct spacing    best;         /* the best guess, sure or not              */
	double            odds;         /* for it against all others together       */
	struct spacing    rival;        /* the best of those; step 0: no raster     */
	double            asked_odds;   /* for it against the one asked about; 1: it is that */
	int               agree;        /* centres likelier on its channels than not */
};

/* Weighs 5, 6.25, 7.5, 25/3, 10, 12.5, 15, 20 and 25 kHz, each at any offset in use,
 * and the one that was asked about. Odds are 1e9 at the most. */
void spacing_judge(const struct witness *witness, int n, const struct spacing *asked,
		   struct spacing_verdict *out);

#endif
