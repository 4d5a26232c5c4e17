#ifndef BANDCENSUS_TOOLS_PLAN_TICKS_H
#define BANDCENSUS_TOOLS_PLAN_TICKS_H

#include <stdbool.h>

#include "tools/plan/interval.h"

/* What the ticks of a listener tell of his set: how strong, in the survey, a channel must be to be
 * heard well on it. The set's antenna, place and squelch are in that margin. */

struct tick {
	double level_db;                /* median over the noise, in the survey      */
	bool   heard;                   /* heard well; else only noise               */
};

/* Fewer tell nothing: so many in all, and so many of each kind. A wider interval is no use, and
 * with a margin they must be 20 times as likely as with levels that do not matter. */
#define TICKS_LEAST   10
#define TICKS_EACH    3
#define TICKS_WIDE_DB 12.0

struct margin {
	int    heard, noise;            /* ticks                                     */
	bool   told;                    /* else the rest is not known                */
	double db;                      /* half of the channels this strong are heard */
	struct interval likely;         /* holds it 19 times of 20                   */
};

/* Logistic regression: heard with chance 1 / (1 + exp(-(level - margin) / scale)), and one tick
 * in fifty at either end whatever the level (a birdie of the set, a slip of the pen). The
 * posterior median and its middle 95 %, on a grid of margins from TICKS_LOW_DB to TICKS_HIGH_DB
 * and of scales, even in the margin and in the logarithm of the scale. */
#define TICKS_LOW_DB  0.0
#define TICKS_HIGH_DB 40.0
void ticks_margin(const struct tick *t, int n, struct margin *out);

#endif
