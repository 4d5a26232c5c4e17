#ifndef BANDCENSUS_TOOLS_PLAN_TALLY_H
#define BANDCENSUS_TOOLS_PLAN_TALLY_H

#include "store/baseline.h"
#include "tools/plan/census.h"
#include "tools/plan/rise.h"

/* What tally.c adds up of a survey's rows and census.c makes a census of; nobody else's. */

#define ZONE_HOURS 1024         /* a power of two: six weeks */

/* Sums of a band's channels, kept as differences from one to the next. */
struct cover {
	int64_t looks, pairs, looked_us;
};

struct field_of {               /* one band while it is tallied */
	struct cover *step;     /* count + 1                    */
	int32_t      *cell;     /* channel to cell, -1: none    */
	int64_t       clipped, floor_ddb, floor_looks;
	int64_t      *hour;     /* the clock hours with any look */
	int           hours;
	uint32_t      of_day;
	struct week   week;
	struct rise   rise;
	struct baseline_floor off;      /* looks 0: not known */
};

struct cell {
	int32_t band, channel;
	int64_t busy_looks, busy_us, evidence, openings, held, blind_looks, blind_us;
	int     artefacts, cleared, overs;
	char    cause[32], account[120];
	struct baseline_line off;       /* with the antenna off; share 0: not there */
};

struct tally {
	int              squelch_ddb, bands;
	bool             hourly;
	struct band     *band;
	struct field_of *of;
	struct cell     *cell;
	int              cells;
	struct over     *over;
	int              overs;
	struct account  *account;
	int              accounts;
	struct exposure *exposure;
	int              exposures;
	struct stints    stints;
	double           ppm;
	int32_t        (*ahead_s)(int64_t us);
	struct { int64_t hour; int32_t ahead_s; } known[ZONE_HOURS];    /* by hour % ZONE_HOURS */
	char             zone[ZONE_TEXT];
};

/* The place's time, from a table: asking takes longer than all else about an over. */
int64_t tally_local_us(struct tally *t, int64_t us);

#endif
