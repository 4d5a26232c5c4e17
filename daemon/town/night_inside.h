#ifndef BANDCENSUS_DAEMON_TOWN_NIGHT_INSIDE_H
#define BANDCENSUS_DAEMON_TOWN_NIGHT_INSIDE_H

#include "daemon/town/night.h"

/* The inside of a night, for the two files that make one. */
struct row {
	struct over *at;
	int          n, room;
};

struct night {
	const struct town *town;
	uint64_t           seed;
	struct row        *overs;       /* one an emitter                        */
	double            *error_hz;    /* the same                              */
	float            **walk_hz;     /* the same; NULL where nothing wanders  */
	struct row         clicks;
};

/* -1: no memory. */
int row_add(struct row *r, struct over o);

/* Fills the overs of all emitters; -1: no memory. */
int night_write_overs(struct night *n);

#endif
