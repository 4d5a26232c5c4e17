#ifndef BANDCENSUS_TESTS_SPY_TOWN_H
#define BANDCENSUS_TESTS_SPY_TOWN_H

#include "daemon/source.h"

/* The town as a source that notes every look which was taken of it. */
struct noted {
	int64_t     from_us, to_us;     /* the town's clock, from the night's begin */
	struct freq centre;
};

struct spy {
	int64_t       began_us;         /* when the night did, on the blocks' clock */
	struct freq   centre;
	struct noted *look;
	int           looks, room;
};

extern struct spy spy;

/* Begins to note. */
struct source_ops spy_town(int64_t began_us);
void spy_forget(void);

#endif
