#ifndef BANDCENSUS_TOOLS_PLAN_CENSUS_H
#define BANDCENSUS_TOOLS_PLAN_CENSUS_H

#include "store/survey.h"
#include "tools/plan/beat.h"
#include "tools/plan/exposure.h"
#include "tools/plan/interval.h"
#include "tools/plan/nature.h"
#include "tools/plan/pairs.h"
#include "tools/plan/stints.h"
#include "tools/plan/traffic.h"
#include "tools/plan/week.h"

/* What a survey shows at one squelch. In memory, no files. */

/* One over whose peak reached the squelch. */
struct over {
	int32_t   band, channel;
	int64_t   run;                  /* the first that heard it               */
	uint64_t  heard_by;             /* 0: by that one alone; else bit run % 64 of each */
	int64_t   first_us, last_us;    /* UTC                                   */
	int64_t   before_us, after_us;  /* how far the true edges lie outside    */
	int64_t   busy_us, looks;
	int32_t   level_ddb, peak_ddb;  /* tenths of a dB over the floor         */
	int32_t   offset_hz, width_hz;
	enum kind kind;
	int32_t   confidence;           /* per mille                             */
	/* Measured sample by sample (store/survey.h); heard_ms 0: not, and all is 0. */
	int32_t   heard_ms, occupied_hz, down26_hz, deviation_hz, depth_pm;
	enum below below;
	int32_t   tone_ddhz, code;
};

struct channel {
	int32_t      band, channel;
	struct freq  centre;
	struct looks looks;
	int64_t      looked_us, busy_us;
	double       occupancy;         /* busy_us over looked_us                */
	struct interval likely;         /* its 95 % interval                     */
	int          over, overs;       /* census->over[over .. over+overs)      */
	int          exchanges;         /* overs less than EXCHANGE_S apart are one */
	int64_t      first_us, last_us; /* 0: no over                            */
	double       level_db;          /* median of overs                       */
	double       strong_db;         /* median of the stronger half           */
	double       spread_db;         /* between the quarters, as a standard deviation */
	double       peak_db;
	double       offset_hz, offset_spread_hz;       /* median; 10 % to 90 %  */
	double       width_hz;          /* median                                */
	enum kind    kind;
	double       confidence;        /* 0 .. 1                                */
	double       agreed;            /* share of the overs with a word, that say this kind */
	struct nature nature;           /* what else is known of what it carries */
	struct pair  pair;              /* its input, output or other side       */
	struct traffic traffic;         /* how it is used; census_traffic fills it in */
	double       over_s, longest_s; /* mean length, longest                  */
	double       gap_s;             /* 85 % of well measured gaps are shorter; 0: too few */
	double       hold_share;        /* of its busiest hour, that exchanges take */
	uint32_t     hours;             /* bit h: an over began in the local hour h */
	int          artefacts;         /* times the survey called it its own making */
	char         cause[32], account[120];   /* the last one's                */
	double       off_dbfs, off_share;       /* its level and share of looks with the */
					/* antenna off; off_share 0: was not there */
	int          cleared;           /* times it was put to the proof and found real */
};

/* Of one band: mean of its channels. */
struct looked {
	int64_t  looks, looked_us;
	int64_t *of_channel;            /* looks of each                         */
	int64_t  clipped;               /* looks spoilt by overload             */
	double   rise_db;               /* of the noise in hours with overload (tools/plan/rise.h)  */
	int      hours;                 /* clock hours with any look             */
	uint32_t of_day;                /* bit h: looked at in the UTC hour h    */
	double   share;                 /* of its channels ever looked at        */
	double   revisit_s;             /* 0: looked at once at most             */
	struct beat beat;               /* look by look                          */
	double   floor_dbfs;
	double   off_dbfs;              /* the same with the antenna off        */
	int64_t  off_looks;             /* that tell it; 0: not known           */
};

#define CENSUS_PART 80
#define ZONE_TEXT 64           /* two zones, where the clocks change meanwhile */

struct census {
	int            squelch_ddb;
	struct band   *band;
	struct looked *looked;          /* one a band                            */
	struct week   *week;            /* one a band                            */
	char           zone[ZONE_TEXT]; /* whose hours these are                 */
	char           part[CENSUS_PART];       /* which bands alone were read; "": all */
	int32_t      (*ahead_s)(int64_t us);    /* of UTC; NULL: none            */
	int            bands;
	struct channel *channel;        /* by band and channel                   */
	int            channels;
	struct over   *over;            /* by band, channel and time             */
	int            overs;
	struct account *account;        /* by band and channel; others' are there too. With tally_hourly */
	int            accounts;
	struct exposure *exposure;      /* by band, as the survey has them. Likewise */
	int            exposures;
	int            folded;          /* channels that were another's emission */
	int64_t        start_us, end_us;        /* first and last looked hour, or run */
	struct stints  stints;          /* when its runs lasted                  */
	int64_t        wall_us;         /* that at least one run lasted          */
	double         ppm;             /* crystal error corrected for, last run */
};

/* Takes the survey's rows, in any order, and makes a census of them. */
struct tally;

struct tally *tally_create(const struct band *bands, int n_bands,
			   int squelch_ddb); /* NULL: no memory */
void tally_destroy(struct tally *t);            /* NULL is fine */

/* The place's time: seconds to add to UTC then, and what that is called. UTC where it is not
 * said. Before the rows. */
void tally_zone(struct tally *t, int32_t (*ahead_s)(int64_t us), const char *zone);

/* Keep exposures and accounts too, which are for comparing. Before the rows. */
void tally_hourly(struct tally *t);

/* Runs first. Rows of bands or channels that do not exist are passed over. -1: no memory. */
int tally_run(struct tally *t, const struct run_row *row);
int tally_coverage(struct tally *t, const struct coverage_row *row);
int tally_activity(struct tally *t, const struct activity_row *row);
int tally_transmission(struct tally *t, const struct transmission_row *row);
int tally_artefact(struct tally *t, const struct artefact_row *row);

/* A channel is in the census when it has an over at the squelch, or was busy
 * more than half the time. The tally's overs go along: it is only good for destroying then.
 * NULL: no memory. */
struct census *tally_finish(struct tally *t);
void census_destroy(struct census *c);          /* NULL is fine */

/* Several runs at once heard the same overs. Two overs of one channel are one when different
 * runs saw them, and their ends may lie so that they are on at the same time: of several the
 * one that is longest on with it, and never two of one run, which told them apart. The overs
 * must be in order. */
void census_join(struct census *c);

/* Gives overs that lie within half an emission of a much busier neighbour to
 * that neighbour, then measures every channel: "one emission, one channel". */
int census_settle(struct census *c);

/* The place's time of a moment. */
int64_t census_local_us(const struct census *c, int64_t us);

/* How each channel is used, which takes some milliseconds each; what is sure of its over
 * lengths and gaps then stands in over_s and gap_s too. -1: no memory. */
int census_traffic(struct census *c);

/* Where the channel's emissions are: centre plus median offset. */
double channel_hz(const struct channel *ch);

#endif
