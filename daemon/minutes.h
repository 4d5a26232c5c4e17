#ifndef BANDCENSUS_DAEMON_MINUTES_H
#define BANDCENSUS_DAEMON_MINUTES_H

#include "dsp/detect.h"
#include "store/survey.h"

/* How strong each channel was, minute by minute (store/strip.h), as far as the survey has
 * not been told. Looks of parks count: a strip shows what was known of a minute, and no
 * occupancy is told from it. What was not judged (blind, or a mirror image) was not looked at. */
struct minutes;

struct minutes *minutes_create(const struct band *bands, int n_bands);   /* NULL: no memory */
void minutes_destroy(struct minutes *m);        /* NULL is fine */

/* A look that began at start_us, and what it showed. */
void minutes_look(struct minutes *m, const struct hop *hop, int64_t start_us,
		  const struct judged *j);

/* Adds all of it to the survey. Inside begin .. commit; still held afterwards. */
int minutes_write(const struct minutes *m, int64_t run, struct survey *s, struct fault *why);

void minutes_empty(struct minutes *m);

#endif
