#ifndef BANDCENSUS_STORE_MANUAL_H
#define BANDCENSUS_STORE_MANUAL_H

#include <stdio.h>

#include "store/options.h"
#include "store/settings.h"

/* Manual pages (mdoc) made of hand-written ones and of the tables that the programs read by: where
 * a page has a line "@options" or "@fields daemon", what the table says is put in. Runs while
 * building, and needs nothing but libc. */

struct manual_part {
	const char *name;               /* after the @                               */
	/* what: the rest of the line; page: the file that it stands in */
	void (*write)(FILE *to, const char *what, const char *page);
};

/* Copies page to to with its parts put in. 0, or -1 after a complaint on stderr: a part that there
 * is not. */
int manual_fill(FILE *page, const char *path, FILE *to, const struct manual_part *part, int parts);

/* The whole of a generator's main: reads the page that is named by the one argument, writes to
 * stdout. */
int manual_main(int argc, char **argv, const struct manual_part *part, int parts);

/* Text as it is to be read: nothing in it is taken for a macro. Lines are broken between words. */
void manual_text(FILE *to, const char *text);

/* As a sentence: with a capital and a full stop. */
void manual_sentence(FILE *to, const char *text);

/* ".It Fl -name Ar VALUE" */
void manual_option(FILE *to, const struct option_row *row);

/* The same for all, each with its help, as a list. */
void manual_options(FILE *to, const struct option_row *row, int rows);

/* A table of settings as a list: name, what it may be, its preset, what it means. Rows of rows
 * follow as lists within. */
void manual_fields(FILE *to, const struct field *table);

#endif
