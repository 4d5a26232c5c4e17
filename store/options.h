#ifndef BANDCENSUS_STORE_OPTIONS_H
#define BANDCENSUS_STORE_OPTIONS_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "store/fault.h"

/* A command line read by a table. The same rows read it, complain, print --help and make the
 * manual and the shells' completion, so that none can tell another story. */

enum option_type {
	OPTION_FLAG,            /* bool                                                    */
	OPTION_TEXT,            /* const char *, borrowed from argv; not empty             */
	OPTION_TEXTS,           /* struct option_texts: may be given again and again       */
	OPTION_WHOLE,           /* int64_t low .. high, times scale where that is not 0    */
	OPTION_REAL,            /* double low .. high                                      */
	OPTION_SEED,            /* uint64_t                                                */
	OPTION_HZ,              /* int32_t: a frequency that is a whole number of hertz    */
	OPTION_FREQ,            /* struct freq, above 0                                    */
	OPTION_DURATION,        /* int64_t microseconds, above 0                           */
	OPTION_MOMENT,          /* struct moment, its text borrowed                        */
	OPTION_BITS             /* uint64_t: "1,2,5", a bit each from 1 to 64              */
};

#define OPTION_AGAIN 8          /* times that one of OPTION_TEXTS may be given */

struct option_texts {
	const char *at[OPTION_AGAIN];
	int         n;
};

struct option_row {
	const char      *name;          /* without its dashes                              */
	const char      *value;         /* what --help calls it; NULL: a flag. A FILE or a */
					/* DIR is completed as such                        */
	enum option_type type;
	size_t           at;            /* offsetof in what is filled                      */
	double           low, high, scale;
	const char      *help;          /* no capital, no full stop                        */
	const char      *ends;          /* of a FILE: what its name ends in; NULL: anything */
};

/* Reads argv[1] and on into out, which holds the presets. What is no option is gathered in word,
 * at most most of them; word may be argv itself. -1 with why: an option that is not in the table (with the one that is
 * nearest to it), a value that is none, a word too many. program goes into "see ... --help". */
int options_take(const struct option_row *row, int rows, int argc, char **argv, const char *program,
		 void *out, char **word, int most, int *words, struct fault *why);

/* The table as --help shows it, broken between words. */
void options_print(FILE *to, const struct option_row *row, int rows);

/* What a value must be, in words. Returns out. */
char *options_allowed(const struct option_row *row, char out[100]);

/* Of n names the one that word was probably meant to be (a letter too few, too many, wrong or
 * swapped, two of them in long words; Damerau's distance), or NULL. */
const char *word_nearest(const char *word, const char *const *name, int n);

#endif
