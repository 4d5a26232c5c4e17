#ifndef BANDCENSUS_TOOLS_COMMAND_H
#define BANDCENSUS_TOOLS_COMMAND_H

#include <stdbool.h>
#include <stdint.h>

#include "store/options.h"

/* A verb's command line, read. */
struct choice {
	bool        json, csv;
	double      squelch_db;
	int64_t     min_overs;
	const char *site;               /* NULL: the only one                   */
	const char *receiver, *interests, *output, *licences, *plan, *memories;
	uint64_t    banks;              /* bit bank - 1; 0: not said            */
	char      **file;               /* what is no option                    */
	int         files;
	bool        help;
};

#define TAKES_MOST 16

/* An option that a verb takes. */
struct takes {
	const char *option;             /* its name in the table of all         */
	const char *help;               /* what it means to this verb; NULL: what the table says */
	bool        needed;
};

/* One verb of bandcensus: all that reads it, helps with it, documents and completes it. */
struct command {
	const char  *name;
	const char  *words;             /* after it, as --help shows them       */
	const char  *help;              /* one line                             */
	const char  *more;              /* paragraphs behind the options; NULL: none */
	const char  *example;           /* a line as typed, without "bandcensus "    */
	int          least, most;       /* files                                */
	struct takes takes[TAKES_MOST]; /* as --help shows them; --help itself goes without saying */
	int        (*run)(const struct choice *o);      /* returns the exit code */
};

/* All of them, as --help shows them. *n: how many. */
const struct command *const *commands_all(int *n);

/* The rows of the options that a verb takes, --help last, in row; returns how many. */
int command_options(const struct command *c, struct option_row row[TAKES_MOST + 1]);

/* The table of all options, for who documents or completes them. */
const struct option_row *command_table(int *n);

/* Reads the verb's command line and runs it. argv[0] is the verb. Returns the exit code. */
int command_run(const struct command *c, int argc, char **argv);

static inline int command_squelch_ddb(const struct choice *o)
{
	return (int)(o->squelch_db * 10 + 0.5);
}

/* Complains on stderr and gives the exit code. */
int command_fail(const struct fault *why);

/* Flushes stdout; the exit code, 1 when not all could be written. */
int command_end(void);

#endif
