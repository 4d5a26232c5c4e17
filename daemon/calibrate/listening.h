#ifndef BANDCENSUS_DAEMON_CALIBRATE_LISTENING_H
#define BANDCENSUS_DAEMON_CALIBRATE_LISTENING_H

#include <signal.h>

#include "daemon/progress.h"
#include "daemon/source.h"
#include "dsp/hop.h"
#include "dsp/lines.h"

/* Looks at one hop after another without keeping a survey: for calibration. One
 * transform length for all, that of the finest rasters. */
struct listening;

/* All borrowed until listening_destroy. */
struct listening_wants {
	const struct source_ops   *ops;
	void                      *source;
	const struct source_about *about;
	const struct hop_plan     *hops;
	int64_t                    look_us;
	const volatile sig_atomic_t *stop;
	struct progress           *progress;    /* cleared before a line is printed */
};

struct listening *listening_create(const struct listening_wants *w);    /* NULL: no memory */
void listening_destroy(struct listening *l);    /* NULL is fine */

/* Tuner settings from the next look on. What was learnt of the noise is forgotten
 * when the gain changes. */
void listening_set(struct listening *l, double ppm, int gain_tenth_db);

/* Looks until the passband is known; before the first look that is judged. An
 * enum source_result; SOURCE_END also when stop is set. */
int listening_learn(struct listening *l, struct fault *why);

/* What a look shows. Borrowed until the next. */
struct glimpse {
	const struct look *look;
	const struct line *line;
	int                lines;
	const struct floor *floor;      /* that judged this look                        */
	double             noise_lsb;   /* rms on each rail, in steps of the converter */
};

/* One look at a hop: SOURCE_BLOCK; SOURCE_DEAF when that hop can't be tuned; a
 * source that went away is waited for, half a minute at the most. */
int listening_look(struct listening *l, int hop, struct glimpse *out, struct fault *why);

/* Lets time pass: an enum source_result. */
int listening_rest(struct listening *l, int64_t us);

/* Of the last look, on the clock that is never stepped. */
int64_t listening_now_us(const struct listening *l);

#endif
