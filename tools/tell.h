#ifndef BANDCENSUS_TOOLS_TELL_H
#define BANDCENSUS_TOOLS_TELL_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "dsp/freq.h"

/* Results told field by field. One function for each noun says its fields in order, with what
 * they mean; from that one telling come its JSON, its CSV and the manual's list of fields, so
 * that none can tell another story. A name ends in its unit; times are UTC. What is not
 * known is null in JSON and empty in CSV. */

struct teller;

/* Names and meanings must be constant; text is copied. NULL and "" are not known. */
void tell_text(struct teller *t, const char *name, const char *text, const char *meaning);
void tell_whole(struct teller *t, const char *name, int64_t v, const char *meaning);
void tell_yes(struct teller *t, const char *name, bool v, const char *meaning);
void tell_freq(struct teller *t, const char *name, struct freq f, const char *meaning);
/* In microseconds of UTC; 0 is not known. */
void tell_time(struct teller *t, const char *name, int64_t us, const char *meaning);
/* With so many digits behind the point; not known when it is not finite. */
void tell_real(struct teller *t, const char *name, double v, int digits, const char *meaning);
/* With three digits that count, wherever they stand. */
void tell_figure(struct teller *t, const char *name, double v, const char *meaning);
/* Several whole numbers. */
void tell_wholes(struct teller *t, const char *name, const int64_t *v, int n, const char *meaning);
/* The numbers of the bits that are set, from 1. */
void tell_bits(struct teller *t, const char *name, uint64_t bits, const char *meaning);

/* Fields that belong together, until the close; all are told, also when they are not known. The
 * whole of a result that is no list is one too, without a name. */
void tell_open(struct teller *t, const char *name, bool known, const char *meaning);
void tell_close(struct teller *t);

/* A list of rows, without a name when it is the whole:
 *	tell_list(t, "memories", "...");
 *	for (int i = 0; tell_more(t, i, n); i++)
 *		tell fields of i < n ? row[i] : blank
 * Who wants to know the fields of an empty list asks for one row more: there must be a blank. */
void tell_list(struct teller *t, const char *name, const char *meaning);
bool tell_more(struct teller *t, int i, int n);

/* Writes what tell says of a result. 0, or -1 when there is no memory; whether all was written
 * the stream tells. CSV (RFC 4180, lines end in CR LF) shows one list of it, by name or NULL for the
 * whole; lists within its rows are left out. Before text that a spreadsheet would take for a
 * formula stands a '. */
int tell_json(FILE *to, void (*tell)(struct teller *t, const void *what), const void *what);
int tell_csv(FILE *to, const char *list, void (*tell)(struct teller *t, const void *what),
	     const void *what);

/* Its fields instead, a line each: name, type, meaning. */
int tell_fields(FILE *to, void (*tell)(struct teller *t, const void *what), const void *what);

#endif
