#ifndef BANDCENSUS_DAEMON_WATCH_H
#define BANDCENSUS_DAEMON_WATCH_H

#include <signal.h>

#include "daemon/clock.h"
#include "daemon/onlooker.h"
#include "daemon/progress.h"
#include "daemon/source.h"
#include "dsp/hop.h"
#include "store/room.h"
#include "store/station.h"
#include "store/survey.h"

/* One of the sources that a watch is kept with. */
struct watch_source {
	const struct source_ops *ops;
	struct source_request    request;       /* to open it by when it is not there */
	void                    *source;        /* NULL: not there yet. Whoever runs the */
						/* watch closes it afterwards            */
	struct source_about      about;         /* asked again once it is opened         */
};

/* Everything a survey needs to run. All borrowed for its length. */
struct watch {
	struct watch_source     *sources;
	int                      n_sources;     /* up to ROSTER_POSTS; more than one must be tunable */
	const struct station    *station;
	const struct band       *bands;
	int                      n_bands;
	const struct hop_plan   *hops;          /* shared out among the sources       */
	struct survey           *survey;
	int64_t                  run;
	int64_t                  for_us;        /* 0: until the sources end or stop is set */
	int64_t                  until_us;      /* UTC, by which it ends too; 0: none   */
	const volatile sig_atomic_t *stop;
	struct progress         *progress;
	const struct clock      *clock;         /* NULL: the computer's               */
	const struct room_source *room;         /* NULL: the survey's disk            */
	int64_t                  limit_bytes;   /* of the survey, where it ends; 0: none */
	const struct challenger *challenger;    /* NULL: nobody                       */
	const struct onlooker   *onlookers;
	int                      n_onlookers;
};

/* Keeps watch with every source until the end, and commits as it goes. 0 when it
 * ended as it should, stopped included; a source that fails for good is only the
 * end when it is the last. When none comes within for_us that is the end too, and a
 * fault: nothing was looked at. */
int watch_run(const struct watch *n, struct fault *why);

/* What retuning costs a source that does not say, until it was measured: a dongle's transfers, its
 * settling, and the rest of a delivery, as tests/test_dongle_share.c counts them. */
#define RETUNE_US 13050

/* About how long one look at a source is: the station's dwell, or a finer cut for
 * a recording, which is one endless look. */
int64_t watch_look_us(const struct station *s, const struct source_about *about);

/* By which its hops are visited. */
struct schedule_rules watch_rules(const struct station *s, const struct source_about *about);

#endif
