#ifndef BANDCENSUS_STORE_RESCUE_H
#define BANDCENSUS_STORE_RESCUE_H

#include "store/survey.h"

/* What is left of a damaged survey, as a new one.
 *
 * A page counts only when all its bytes are accounted for and every row on it is one that our
 * readers take; then all its rows are saved, whatever became of the pages around it, unless their
 * run or band is lost. No other row is: what a page says that is damaged in one place is not
 * believed in the others. SQLite keeps no sums of pages, so that a byte changed inside a value that
 * stays possible is not seen.
 *
 * What was lost must not pass for quiet: where rows of activity may be gone, the channels are taken
 * out of the coverage of all hours, as not looked at. */

#define RESCUE_TABLES 16

struct rescue_sum {
	int64_t pages, pages_lost;
	int     tables;
	struct {
		const char *name;
		int64_t     saved;
		int64_t     homeless;   /* could be read, but their run or band is lost   */
		int64_t     missing;    /* known to be lost by the gaps in their numbers  */
	} table[RESCUE_TABLES];
	bool    whole;                  /* nothing is lost */
};

/* to appears whole or not at all. say is told, line by line, which channels and hours are not
 * covered any more. -1: FAULT_INPUT when from can't be opened or to is there already, FAULT_FATAL
 * when not even the bands can be read. */
int survey_rescue(const char *from, const char *to, void (*say)(void *self, const char *line),
		  void *self, struct rescue_sum *sum, struct fault *why);

#endif
