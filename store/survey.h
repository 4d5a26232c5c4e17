#ifndef BANDCENSUS_STORE_SURVEY_H
#define BANDCENSUS_STORE_SURVEY_H

#include <stdbool.h>
#include <stdint.h>

#include "dsp/band.h"
#include "dsp/subtone.h"
#include "dsp/track.h"
#include "store/fault.h"

/* What was kept of the air: one SQLite file. Times are UTC in microseconds,
 * frequencies thirds of a hertz, levels tenths of a dB. One writer; readers
 * may look on. Every call returns 0, or -1 with why filled, unless it says
 * otherwise. */
struct survey;

#define HOUR_US   INT64_C(3600000000)


/* ---- rows ---- */

/* One start of the daemon. */
struct run_row {
	int64_t id;             /* given by the survey                        */
	int64_t start_us, end_us;       /* end_us 0: still running, or died   */
	char    station[64];
	char    source[128];
	char    version[32];
	int32_t rate_hz;
	int32_t gain_ddb;       /* tenths of a dB                             */
	double  ppm;
	int64_t dwell_us;       /* length of one look                         */
	double  pfa;            /* false alarms per look and channel, asked   */
	double  margin_db;      /* evidence is at least this far over the floor */
};

/* Looked time of the channels [first, first+count) of a band in one hour.
 * Adds up with what is there. */
struct coverage_row {
	int64_t run, hour;      /* hour: start_us of the hour                 */
	int32_t band;           /* index into the survey's bands              */
	int32_t first, count;
	int64_t looks;          /* visits                                     */
	int64_t pairs;          /* visits soon enough after the one before    */
	int64_t looked_us;
	int64_t clipped;        /* visits spoilt by overload                  */
	int64_t floor_ddb_sum;  /* sum over looks of the mean floor, dBFS/10, per measured width */
	int32_t floor_low_ddb, floor_high_ddb;  /* least and most of a look */
	int32_t more_hours;     /* 0: of that hour alone; 23: of the day it begins, old enough */
				/* not to be kept hour by hour (store/thin.h); likewise below  */
};

/* Time that a receiver stayed on the channels [first, first+count) of a band in one hour. It
 * saw overs, and is in no coverage: where parks are held depends on what was heard. Adds up. */
struct parked_row {
	int64_t run, hour;
	int32_t band, first, count;
	int64_t parks;          /* that began in it */
	int64_t parked_us;
	int32_t more_hours;
};

/* What was above the floor on one channel in one hour; no row: nothing was.
 * Adds up. */
struct activity_row {
	int64_t run, hour;
	int32_t band, channel;
	int64_t busy_looks;     /* looks at the evidence threshold            */
	int64_t busy_us;
	int64_t openings;       /* idle to busy, or busy when first seen      */
	int64_t held;           /* busy looks soon after a busy look          */
	int64_t blind_looks;    /* covered but not to be judged: subtract     */
	int64_t blind_us;
	int64_t level[LEVEL_BINS];      /* busy microseconds by level over the floor */
	int64_t level_looks[LEVEL_BINS];/* busy looks by level over the floor */
	int32_t more_hours;
};

struct transmission_row {
	int64_t   run;
	int32_t   band, channel;
	int64_t   first_us, last_us;    /* first and last seen on, UTC                  */
	int64_t   before_us, after_us;  /* how far the true edges may lie outside       */
	int64_t   busy_us;              /* seen on                                      */
	int64_t   looks;
	int32_t   level_ddb, peak_ddb;  /* over the floor in the measured width: median, peak */
	int32_t   floor_ddb;            /* dBFS                                         */
	int32_t   offset_hz;            /* centroid less channel centre                 */
	int32_t   width_hz;             /* holds 99 % of its power                      */
	enum kind kind;
	int32_t   confidence;           /* per mille                                    */
	int32_t   tone_ddhz;            /* tenths of a hertz; 0: none known             */
	/* Measured sample by sample, in a park or a recording: */
	int32_t   heard_ms;             /* 0: not, and neither is what follows          */
	int32_t   occupied_hz;          /* holds 99 % of its power (ITU RR 1.153)       */
	int32_t   down26_hz;            /* outside it all is 26 dB down                 */
	int32_t   deviation_hz;         /* FM: peak                                     */
	int32_t   depth_pm;             /* AM: peak, per mille                          */
	enum below below;               /* speech                                       */
	int32_t   code;                 /* nine bits (DCS); 0: none known               */
};

struct incident_row {
	int64_t run, at_us, until_us;   /* until 0: at an instant               */
	char    what[32];               /* lost, deaf, clock, overload, rest, warm-up, stopped */
	char    text[200];
};

/* Whether a line is of our own making, as found while surveying: cause is what it
 * is (birdie, spur, image, product), or CAUSE_REAL for who was cleared. */
#define CAUSE_REAL "real"
struct artefact_row {
	int64_t run, at_us;
	int32_t band, channel;
	char    cause[32];
	char    text[200];
};

/* A settings file as it was read; out of a survey, made fit for a terminal (store/text.h). */
struct setting_row {
	int64_t     run;
	const char *file, *text;        /* borrowed; read: until the next row */
};

struct bytes {
	const uint8_t *at;
	size_t         n;
};

/* What each channel of a band was like, cell of time by cell: the picture of the night, and
 * the proof of what was looked at. Replaces the one of the same band, run, start and cell. */
struct strip_row {
	int64_t      run;
	int32_t      band;
	int64_t      start_us, cell_us; /* of the first cell; of each         */
	int32_t      cells;
	struct bytes packed;            /* store/strip.h; borrowed likewise   */
};

/* All that a run adds, noun by noun: struct NOUN_row, survey_add_NOUN, survey_each_NOUN. */
#define SURVEY_NOUNS(X) \
	X(coverage) X(activity) X(transmission) X(incident) X(artefact) X(setting) X(parked) X(strip)

/* ---- writing ---- */

/* Opens or creates for writing; makes it 0600, migrates an older one, refuses
 * a newer one, a second writer, a file that is no survey, and bands that are
 * not the ones it holds. Starts a run and sets run->id. NULL on failure, with
 * nothing created: FAULT_RETRY for a second writer and for a disk that can't be written now. */
struct survey *survey_write(const char *path, struct run_row *run,
			    const struct band *bands, int n_bands, struct fault *why);

/* Whether the file, which is there, could be gone on with by survey_write: a survey of these bands, readable, of
 * a version that is known, and all of it in order however large it is: one that is not fails amid a watch. 0; -1
 * with why. Changes nothing. */
int survey_fits(const char *path, const struct band *bands, int n_bands, struct fault *why);

/* One that is there, to be thinned, with no run of its own. Otherwise as survey_write. */
struct survey *survey_amend(const char *path, struct fault *why);

/* When a call in a transaction fails, commit included, roll back; the same rows
 * may then be given again to this open survey, and none is lost or stored twice.
 * (Not after closing it: what a failing disk kept of a commit is only known once
 * the next one went through.) */
int survey_begin(struct survey *s, struct fault *why);
int survey_commit(struct survey *s, struct fault *why);
void survey_rollback(struct survey *s);         /* harmless when nothing is open */

/* Inside begin .. commit. */
int survey_add_coverage(struct survey *s, const struct coverage_row *row, struct fault *why);
int survey_add_activity(struct survey *s, const struct activity_row *row, struct fault *why);
int survey_add_transmission(struct survey *s, const struct transmission_row *row, struct fault *why);
int survey_add_incident(struct survey *s, const struct incident_row *row, struct fault *why);
int survey_add_artefact(struct survey *s, const struct artefact_row *row, struct fault *why);
int survey_add_setting(struct survey *s, const struct setting_row *row, struct fault *why);
int survey_add_parked(struct survey *s, const struct parked_row *row, struct fault *why);
int survey_add_strip(struct survey *s, const struct strip_row *row, struct fault *why);
int survey_set_ppm(struct survey *s, int64_t run, double ppm, struct fault *why);   /* it turned out to be */
int survey_end_run(struct survey *s, int64_t run, int64_t end_us, struct fault *why);

const char *survey_path(const struct survey *s);

/* Of the file, as it will be when its log has gone into it; free: bytes of that which hold nothing
 * any more, and are filled before the file grows. */
int survey_size(struct survey *s, int64_t *bytes, int64_t *free, struct fault *why);

/* Gives what is free back to the disk: all is written anew, in one transaction, which takes as much
 * room again twice meanwhile. */
int survey_shrink(struct survey *s, struct fault *why);

void survey_close(struct survey *s);            /* NULL is fine */

/* ---- reading ---- */

/* Read-only. Refuses (FAULT_INPUT) a missing file, a newer version and what is
 * no survey; an older version is read as it is where that can be. */
struct survey *survey_read(const char *path, struct fault *why);

/* Whether all of the file is in order, tables and indexes: survey_read has done so for files of up to
 * 32 MiB. FAULT_FATAL when it is not. */
int survey_check(struct survey *s, struct fault *why);

int survey_bands(const struct survey *s, const struct band **bands);    /* count; owned by s */

/* Each calls see for every row, ordered as said; a see that returns non-zero
 * stops the walk and that value is returned. */
int survey_each_run(struct survey *s, int (*see)(void *, const struct run_row *), void *self,
		    struct fault *why);                 /* by id */
int survey_each_coverage(struct survey *s, int (*see)(void *, const struct coverage_row *), void *self,
			 struct fault *why);            /* by band, first, hour, run */
int survey_each_activity(struct survey *s, int (*see)(void *, const struct activity_row *), void *self,
			 struct fault *why);            /* by band, channel, hour, run */
int survey_each_transmission(struct survey *s, int (*see)(void *, const struct transmission_row *),
			     void *self, struct fault *why);    /* by band, channel, first_us */
int survey_each_incident(struct survey *s, int (*see)(void *, const struct incident_row *), void *self,
			 struct fault *why);            /* by at_us */
int survey_each_artefact(struct survey *s, int (*see)(void *, const struct artefact_row *), void *self,
			 struct fault *why);            /* by band, channel, at_us */
int survey_each_setting(struct survey *s, int (*see)(void *, const struct setting_row *), void *self,
			struct fault *why);             /* by run, file */
int survey_each_parked(struct survey *s, int (*see)(void *, const struct parked_row *), void *self,
		       struct fault *why);              /* by band, first, hour, run */
int survey_each_strip(struct survey *s, int (*see)(void *, const struct strip_row *), void *self,
		      struct fault *why);               /* by start_us, band, run */

#endif
