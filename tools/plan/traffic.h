#ifndef BANDCENSUS_TOOLS_PLAN_TRAFFIC_H
#define BANDCENSUS_TOOLS_PLAN_TRAFFIC_H

#include <stddef.h>
#include <stdint.h>

#include "tools/plan/renewal.h"

/* How a channel is used: its overs, the silence between them, its exchanges and its
 * hours, as far as overs with their uncertain ends tell. Pure. */

/* An over is on-time not broken by silence of so long: the daemon's hang, as it comes. What
 * sweeps alone met is read as if people's gaps were exponential. */
#define TRAFFIC_HANG_S 0.5

/* Overs less than so far apart are one exchange (common practice). */
#define EXCHANGE_S 8.0

enum shape {
	SHAPE_UNKNOWN = 0,      /* too few overs to say                                 */
	SHAPE_ALWAYS,           /* on in nearly all looks: beacon, control, broadcast   */
	SHAPE_PERIODIC,         /* short, at a fixed period: telemetry, beacons         */
	SHAPE_BURSTS,           /* short ones, at no period: data, packets              */
	SHAPE_TALK,             /* overs of seconds in exchanges, at people's times     */
	SHAPE_COUNT
};

/* "unknown", "always on", "periodic", "bursts", "talk". */
const char *shape_name(enum shape s);

/* The same figures where what is usual, rather than what was seen, may make them up. All 0: too
 * few overs to guess from. */
struct guessed {
	struct estimate over_s, gap_s;
	double          more;           /* chance that an over is not the last of its exchange */
};

struct traffic {
	enum shape      shape;
	double          stuck_s;        /* somebody sat on the key: ten times the usual and over 200 s of */
					/* a bare carrier, or 600 s of anything. In no figure below; 0: none */
	struct estimate over_s;         /* mean length of overs                                */
	struct estimate over_median_s;
	struct estimate gap_s;          /* mean silence between two overs of an exchange       */
	struct guessed  guessed;        /* for what must have a figure                         */
	double          gap_most_s;     /* 85 % of these gaps are shorter; 0: can't be said    */
	double          longest_s;      /* over that was on for longest, as seen               */
	struct estimate exchanges_h;    /* met, an hour of the survey (Poisson)                */
	double          overs_exchange; /* overs met in one, mean                              */
	int             exchanges;
	int             watched;        /* overs seen to begin or to end, not by sweeps alone  */
	double          period_s, jitter_s;     /* SHAPE_PERIODIC: and one sigma of each beginning */
	uint32_t        busy_hours;     /* bit h: in the UTC hour h at least 1.5 times the mean rate */
	uint32_t        hours;          /* bit h: heard in the UTC hour h                      */
};

struct over;                            /* tools/plan/census.h */

/* What is known of a channel besides its overs. */
struct watched {
	double   occupancy;             /* 0 .. 1                                              */
	double   wall_s;                /* how long the survey lasted                          */
	double   revisit_s;             /* from look to look in sweeps, without rests; 0: not known */
	uint32_t of_day;                /* bit h: looked at in the UTC hour h; all alike       */
};

/* Measures a channel from its overs, ascending. Deterministic. -1: no memory. */
int traffic_measure(const struct over *o, int n, const struct watched *w, struct traffic *out);

#define TRAFFIC_TEXT 200

/* "talk: overs 3.5 s (2.4-5.1), gaps 2.7 s (1.8-4.0), 143 exchanges, busiest 07:00-09:00 UTC";
 * "" where there is nothing to say. Returns out. */
char *traffic_words(const struct traffic *t, char *out, size_t size);

#endif
