#ifndef BANDCENSUS_DAEMON_WATCH_H
#define BANDCENSUS_DAEMON_WATCH_H

#include <signal.h>

#include "daemon/progress.h"
#include "daemon/source.h"
#include "dsp/hop.h"
#include "store/station.h"
#include "store/survey.h"

/* Everything a survey needs to run. All borrowed for its length. */
struct watch {
	const struct source_ops *ops;
	void                    *source;
	const struct source_about *about;
	const struct station    *station;
	const struct band       *bands;
	int                      n_bands;
	const struct hop_plan   *hops;
	struct survey           *survey;
	int64_t                  run;
	int64_t                  for_us;        /* 0: until the source ends or stop is set */
	const volatile sig_atomic_t *stop;
	struct progress         *progress;
};

/* Learns the passband, then looks at hop after hop until the end and commits as
 * it goes. 0 when it ended as it should, stopped included. */
int watch_run(const struct watch *n, struct fault *why);

/* Retuning costs about this: for estimates only. */
#define RETUNE_US 15000

/* About how long one look at a source is: the station's dwell, or a finer cut for
 * a recording, which is one endless look. */
int64_t watch_look_us(const struct station *s, const struct source_about *about);

#endif
