#ifndef BANDCENSUS_STORE_MERGE_H
#define BANDCENSUS_STORE_MERGE_H

#include "store/survey.h"

/* Several nights, dongles or sites made one survey. */
struct merge_sum {
	int bands, runs, sites;
	int again;              /* runs that were given more than once, and kept once */
};

/* Writes a new survey out of the n others, which it only reads. All rows go along, of all
 * runs, which are numbered anew in the order they began; bands go together by id.
 *
 * The same run (station, start and source) given twice is kept once, from where most was looked
 * at; say, which may be NULL, is told so in one line. Two receivers that looked at the same time
 * stay two runs with their rows: what they looked adds up, and an over that both heard is made
 * one when reading (tools/plan/census.h).
 *
 * out appears whole or not at all, with mode 0600. FAULT_INPUT when there is something at out
 * already, or when bands of one id have other rasters; FAULT_FATAL for a row that no reader takes, strips
 * included (picture_check). */
int survey_merge(const char *out, char *const *from, int n,
		 void (*say)(void *self, const char *line), void *self,
		 struct merge_sum *sum, struct fault *why);

#endif
