#ifndef BANDCENSUS_STORE_PULSE_H
#define BANDCENSUS_STORE_PULSE_H

#include <stdio.h>

#include "store/survey.h"

/* How a survey goes while it is being written, as far as its file tells: that is behind by one
 * commit, and an over is only in it once it has ended. */

#define PULSE_SPAN_US   (15 * INT64_C(60000000))        /* what is called now */
#define PULSE_CHANNELS  10
#define PULSE_WHATS     12
#define PULSE_INCIDENTS 3

/* A channel that was heard in the span. */
struct pulse_channel {
	char        band[24];
	struct freq centre;
	int         heard, looked;      /* minutes of the span          */
	int         peak_db;            /* its strongest, over the floor */
};

struct pulse {
	char           file[256];       /* as it was named, cut         */
	struct run_row run;             /* the newest one               */
	int64_t        now_us;          /* UTC, the survey's: of what is newest in it */
	int64_t        written_us;      /* UTC, the computer's: when its file changed */
	int64_t        bytes;           /* of the file                  */
	int64_t        disk_bytes;      /* left for it; -1: not known   */
	int            bands;
	int64_t        channels;
	/* Since the hour before this one began, or the run did: */
	int64_t        counted_us;
	double         revisit_s;       /* from look to look at a channel, mean; 0: none yet */
	double         revisit_low_s, revisit_high_s;   /* of a band         */
	double         overload;        /* share of looks                    */
	/* In the span: */
	int            overs;           /* that ended                        */
	int            heard, fresh;    /* channels; of them never before in this survey */
	int            unseen;          /* bands of which nothing was looked at */
	char           unseen_band[200];        /* their ids, cut            */
	struct pulse_channel busy[PULSE_CHANNELS];      /* the busiest first     */
	struct pulse_channel new[PULSE_CHANNELS];       /* likewise, never heard before */
	/* Of the run: */
	int            whats;
	struct {
		char    what[32];
		int64_t n;
		double  s;              /* that it lasted, all together */
	} what[PULSE_WHATS];
	int            incidents;
	struct incident_row incident[PULSE_INCIDENTS];  /* the newest first */
};

/* Reads it, and lets go of the file: whoever writes it is never kept waiting, and can leave one
 * file at the end. wall_us: UTC by the computer's clock. -1 with why as survey_read, and FAULT_INPUT
 * for a survey without a run. */
int pulse_read(const char *path, int64_t wall_us, struct pulse *out, struct fault *why);

/* Changes whenever the file or its log does; 0: there is none. */
uint64_t pulse_mark(const char *path);

/* For people, in lines of at most 80 letters, hours in this computer's zone; and as one object of
 * JSON (RFC 8259). */
void pulse_text(FILE *to, const struct pulse *p, int64_t wall_us);
void pulse_json(FILE *to, const struct pulse *p, int64_t wall_us);

#endif
