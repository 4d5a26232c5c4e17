#ifndef BANDCENSUS_STORE_FIELD_H
#define BANDCENSUS_STORE_FIELD_H

#include "store/settings.h"

/* The inside of store/settings.c that needs no settings file: values from their
 * text, presets, and what to say about a value that will not do. */

enum field_verdict {
	FIELD_GOOD = 0,
	FIELD_MALFORMED,        /* not such a thing at all, or without its unit */
	FIELD_OUTSIDE,          /* not among the choices, too much, too long    */
	FIELD_NO_MEMORY
};

#define FIELD_ROOM 240          /* room for what field_allowed says */

/* A value from its text into out: all types but lists. */
enum field_verdict field_parse(const struct field *f, void *out, const char *text);

/* Makes room for n elements of a list, all zero; nothing is owned before. -1: no memory. */
int field_make_list(const struct field *f, void *out, int n);

/* Element i of a list of texts or frequencies. */
enum field_verdict field_parse_element(const struct field *f, void *out, int i, const char *text);

/* Every field as if nothing were set and owned. */
void field_clear_all(const struct field *table, void *out);

/* The preset, if there is one; lists have theirs with commas. */
enum field_verdict field_preset(const struct field *f, void *out);

/* What would have done, after "must be". Returns text. */
const char *field_allowed(const struct field *f, enum field_verdict v, char text[FIELD_ROOM]);

/* The name in the table most like this one; NULL when none is at all like it. */
const char *field_nearest(const struct field *table, const char *name);

#endif
