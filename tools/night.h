#ifndef BANDCENSUS_TOOLS_NIGHT_H
#define BANDCENSUS_TOOLS_NIGHT_H

#include "store/options.h"
#include "store/moment.h"
#include "tools/plan/suspect.h"
#include "tools/site.h"

#define SQUELCH_PRESET_DB 6.0           /* what a shelf receiver opens on */

/* What of a survey is read, as the command line says but for hourly. All 0: all of it. */
struct night_wants {
	double              squelch_db;
	const char         *site;               /* NULL: the only one           */
	struct moment       since, until;
	struct option_texts band, service;      /* ids, names; none: all bands  */
	bool                hourly;             /* exposures and accounts too   */
};

/* The same, once the survey is known. */
struct narrowed {
	struct site site;
	int64_t     since_us, until_us;         /* INT64_MIN, INT64_MAX: no end */
	int        *band_of;                    /* of each of the survey's: which of those read; -1: none */
	struct band *band;
	int         bands;
	char        words[CENSUS_PART];         /* "band air": what was asked for; "": all */
};

/* FAULT_INPUT: no such site, band or service, a time that the clocks skipped, one amid an hour
 * (accounts are kept by the hour), until before since. Owned until narrow_free. */
int narrow(const struct night_wants *w, struct survey *s, const char *path, struct narrowed *out,
	   struct fault *why);
void narrow_free(struct narrowed *n);

/* Whether a stretch of time that belongs to a run is read: it lies in the range, or partly so. */
bool narrow_has(const struct narrowed *n, int64_t run, int64_t from_us, int64_t to_us);

/* Reads that part of a survey file into a census: what lies outside was not looked at. Hours of the
 * week are those of this computer's zone. NULL with why filled. */
struct census *night_read(const char *path, const struct night_wants *w, struct fault *why);

#endif
