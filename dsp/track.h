#ifndef BANDCENSUS_DSP_TRACK_H
#define BANDCENSUS_DSP_TRACK_H

#include "dsp/detect.h"
#include "dsp/emission.h"
#include "dsp/subtone.h"

#define LEVEL_BINS 80           /* levels in 1 dB steps, 0 .. 79 dB over the floor */

/* Level over the floor as a bin of such a histogram. */
int level_bin(double power, double floor);

/* One over: an emission on one channel, from when it was first seen on to when
 * it was last. Lengths come from the clock that is never stepped; first_us is
 * UTC, last_us is first_us plus the length. */
struct transmission {
	int32_t   band, channel;
	int64_t   first_us, last_us;
	int64_t   before_us, after_us;  /* how far the true ends may lie outside     */
	int64_t   busy_us;              /* seen on; short holes between looks filled */
	int32_t   looks;
	double    level_db, peak_db;    /* over the floor: median of looks, highest  */
	double    floor_dbfs;
	double    offset_hz;            /* centroid less channel centre, weighted    */
	double    width_hz;             /* median-like mean of looks                 */
	/* By its samples; a track leaves it all at nothing (dsp/inquiry.h): */
	enum kind kind;
	double    confidence;
	/* Measured where a receiver stayed: */
	double    heard_s;              /* of it; 0: not, and neither is what follows */
	double    occupied_hz;          /* holds 99 % of its power (ITU RR 1.153)    */
	double    down26_hz;            /* outside it all is 26 dB down              */
	double    deviation_hz;         /* FM: peak; 0: another kind                 */
	double    am_depth;             /* AM: peak, 0 .. 1; 0: another kind         */
	struct subtone_word below;      /* speech                                    */
};

/* What one look adds to a channel's account. */
struct touch {
	int32_t band, channel;
	bool    busy, blind;
	bool    opened;         /* busy, and not at a look soon before           */
	bool    held;           /* busy, and busy at a look soon before          */
	int     level;          /* level_bin, when busy                          */
	int64_t busy_us, blind_us;
};

/* An over that goes on so long is handed out and begun anew, so that a survey
 * cut short still knows of what never went off. */
#define TRACK_LONGEST_US INT64_C(3600000000)

/* Looks at a channel belong together when they are no more than so many revisit times apart. */
#define TRACK_SOON 1.6

struct track_rules {
	int64_t hang_us;        /* silence that ends an over, at the least       */
	int64_t fill_us;        /* a hole no longer than this counts as on       */
	int64_t revisit_us;     /* from one look at a channel to the next, usual */
};

/* Follows every channel of all bands from look to look. Memory sized at the
 * start; transmissions that end are handed to ended, account lines to touched
 * (only for channels that are busy or blind). */
struct track;

struct track *track_create(const struct track_rules *rules, const struct band *bands, int n_bands,
			   void (*ended)(void *self, const struct transmission *),
			   void (*touched)(void *self, const struct touch *), void *self);
void track_destroy(struct track *t);            /* NULL is fine */

/* Whether each channel of the hop was busy at its last look, soon enough ago to
 * matter; in the order of its spans. */
void track_open(const struct track *t, const struct hop *hop, int64_t mono_us, bool *open);

/* Whether a look at mono_us comes soon after the one before at the hop's channels. */
bool track_soon(const struct track *t, const struct hop *hop, int64_t mono_us);

/* Takes what a look showed. */
void track_look(struct track *t, const struct hop *hop, const struct look *l,
		const struct judged *j);

/* The revisit time as it turned out to be. */
void track_revisit(struct track *t, int64_t revisit_us);

/* Ends all that is open: the survey stops, or has not looked for a while. */
void track_end(struct track *t);

#endif
