#ifndef BANDCENSUS_STORE_COMPLETION_H
#define BANDCENSUS_STORE_COMPLETION_H

#include <stdbool.h>
#include <stdio.h>

#include "store/options.h"

/* What a shell completes, from the tables that the programs read by. Runs while building, like
 * store/manual.h. */

/* A verb of a program, or all of a program that has none. */
struct completed {
	const char *verb;               /* NULL: the program has none              */
	const char *help;
	const char *ends;               /* of its files' names; NULL: any          */
	bool        files;              /* it takes some                           */
	bool        verbs;              /* it takes the name of a verb instead     */
	const struct option_row *row;
	int         rows;
};

/* shell: "bash" or "zsh"; of another nothing comes. */
void completion_write(FILE *to, const char *shell, const char *program, const struct completed *of,
		      int n);

#endif
