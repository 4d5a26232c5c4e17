#ifndef BANDCENSUS_DAEMON_OPENING_H
#define BANDCENSUS_DAEMON_OPENING_H

#include "daemon/watch.h"

/* The survey file at the start of a run: opened with the run's row, and told of the settings
 * that it is made with. */
struct opening {
	const char                *path;
	const char                *config;      /* the station's file; NULL: presets */
	const struct station      *station;
	const struct watch_source *sources;
	int                        n_sources;
	const struct band         *bands;
	int                        n_bands;
};

/* Fills run. NULL with why. */
struct survey *opening_write(const struct opening *o, struct run_row *run, struct fault *why);

#endif
