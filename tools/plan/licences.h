#ifndef BANDCENSUS_TOOLS_PLAN_LICENCES_H
#define BANDCENSUS_TOOLS_PLAN_LICENCES_H

#include "dsp/freq.h"
#include "store/fault.h"

/* A list that the user has of who is licensed where: a claim to print beside what was
 * heard, never instead of it. */

#define LABEL_TEXT 160

struct licence {
	struct freq frequency;
	char        label[LABEL_TEXT];  /* text_tame has seen to it         */
	int         order;              /* in the list                      */
};

struct licences {
	struct licence *at;             /* once sorted: up in frequency, then as listed */
	int             n;
};

/* -1: no memory. label is cut where it does not fit. licences_sort before use. */
int licences_add(struct licences *l, struct freq f, const char *label);
void licences_sort(struct licences *l);
void licences_free(struct licences *l);

/* The labels of the listed frequency nearest to a channel, within half a step of its
 * centre as raster_nearest has it: how many, from *first on. Between two as near the
 * lower one. */
int licences_of(const struct licences *l, struct freq centre, struct freq step, int *first);

#define LISTED_TEXT 120
/* "Harbour office; Pilots and 2 more", cut where it does not fit; "": none. Returns out. */
char *licences_words(const struct licences *l, struct freq centre, struct freq step,
		     char out[LISTED_TEXT]);

/* Writes what is listed of them into a plan's memories and what it left out. */
struct plan;
struct census;
void licences_mark(const struct licences *l, const struct census *c, struct plan *p);

/* CSV as in RFC 4180: frequency in MHz, label. A first line of words is a head; lines that
 * begin with # and empty ones are passed over; lines may end in LF alone. -1 with
 * FILE:LINE in why: not two fields, quotes amiss, no frequency, a label that is empty
 * or too long, too many of them. */
int licences_read(const char *path, struct licences *out, struct fault *why);

#define LICENCES_MOST 200000

#endif
