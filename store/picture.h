#ifndef BANDCENSUS_STORE_PICTURE_H
#define BANDCENSUS_STORE_PICTURE_H

#include "store/strip.h"
#include "store/survey.h"

/* The strips of a survey as one picture: channels by time, whatever rows they lie in. While
 * a minute lasts its row is added to; once an hour is over its minutes become one row, and
 * old ones become hours. A reader need not know: it reads here. */

#define STRIP_HOUR_US HOUR_US
#define STRIP_DAY_US  (24 * HOUR_US)

/* Joins a minute's cells, one a channel of the band, with what the survey has of it from
 * that run; giving them twice changes nothing. Inside begin .. commit. */
int picture_add(struct survey *s, int64_t run, int32_t band, int64_t minute_us,
		const uint8_t *cells, struct fault *why);

/* Makes one row of the minutes that a run has of a band in an hour, of those that begin from
 * from_us on and before before_us, some tens of them in a transaction of its own. 1: call it
 * again; 0: nothing is left to do. */
int picture_tidy(struct survey *s, int64_t from_us, int64_t before_us, struct fault *why);

/* Keeps only the strongest of each hour, of days that lie before before_us; likewise. */
int picture_coarsen(struct survey *s, int64_t before_us, struct fault *why);

/* Whether a strip, of a band that the survey has, can be read: cells of no more than a day, as many as it says and
 * all good. check: -1, FAULT_FATAL, with file and row in why when it can't. */
bool picture_holds(const struct survey *s, const struct strip_row *row);
int picture_check(const struct survey *s, const struct strip_row *row, struct fault *why);

/* Fills cells[(to_us - from_us) / cell_us x channels of the band], all channels of a cell
 * together, from all runs: of each the strongest. Where the survey keeps longer cells than
 * asked for, all that lie in one are like it, and *kept_us (may be NULL) is the longest met;
 * 0: there was none. A survey from before there were strips was not looked at. */
int picture_read(struct survey *s, int32_t band, int64_t from_us, int64_t to_us, int64_t cell_us,
		 uint8_t *cells, int64_t *kept_us, struct fault *why);

/* The same from the runs that of says yes to, such as those of one site. */
int picture_read_of(struct survey *s, int32_t band, int64_t from_us, int64_t to_us, int64_t cell_us,
		    bool (*of)(const void *self, int64_t run), const void *self, uint8_t *cells,
		    int64_t *kept_us, struct fault *why);

#endif
