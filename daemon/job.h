#ifndef BANDCENSUS_DAEMON_JOB_H
#define BANDCENSUS_DAEMON_JOB_H

#include "daemon/options.h"
#include "daemon/watch.h"

/* What a run is made of, in the order it is acquired. */
struct job {
	struct options           options;
	struct station           station;
	struct watch_source      source[OPTION_AGAIN];
	int                      n_sources;
	struct band             *bands;
	int                      n_bands;
	struct hop_plan          hops;
	struct survey           *survey;
	struct run_row           run;
};

/* Which sources there are to be and what the settings say, from the options. -1 with why. */
int job_prepare(struct job *j, struct fault *why);

/* Opens the sources, each that is there; one that is not there yet is waited for. */
int job_open_sources(struct job *j, struct fault *why);

int job_plan_hops(struct job *j, struct fault *why);

/* A survey file, new or to go on with, and a run in it. */
int job_open_survey(struct job *j, const char *path, struct fault *why);

/* Survey, hops and sources; all can be opened again. */
void job_close(struct job *j);

/* Everything; the job must be zeroed at first. */
void job_release(struct job *j);

#endif
