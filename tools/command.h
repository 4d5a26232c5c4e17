#ifndef BANDCENSUS_TOOLS_COMMAND_H
#define BANDCENSUS_TOOLS_COMMAND_H

#include <stdbool.h>
#include <stdint.h>

#include "store/thin.h"
#include "tools/night.h"

/* A verb's command line, read. */
struct choice {
	bool        json, csv, fields;
	struct night_wants night;       /* what of a survey is read             */
	int64_t     min_overs;
	const char *receiver, *interests, *output, *licences, *plan, *memories;
	const char *region, *antenna, *station;
	bool        yes, overwrite;
	bool        follow;
	int64_t     every_us;           /* 0: as usual                          */
	int64_t     width, height;      /* dots; 0: as usual                    */
	struct keep keep;
	uint64_t    banks;              /* bit bank - 1; 0: not said            */
	char      **file;               /* what is no option                    */
	int         files;
	bool        help;
};

#define TAKES_MOST 20

/* An option that a verb takes. */
struct takes {
	const char *option;             /* its name in the table of all         */
	const char *help;               /* what it means to this verb; NULL: what the table says */
	bool        needed;
};

/* What the exit codes of most verbs say. */
#define COMMAND_EXITS "0 done, 1 failed, 2 something in your input is to be mended"

/* One verb of bandcensus: all that reads it, helps with it, documents and completes it. */
struct command {
	const char  *name;
	const char  *words;             /* after it, as --help shows them       */
	const char  *help;              /* one line                             */
	const char  *more;              /* paragraphs behind the options; NULL: none */
	const char  *exits;             /* what its exit codes say; NULL: as usual   */
	const char  *example;           /* a line as typed, without "bandcensus "    */
	int          least, most;       /* files                                */
	const char  *ends;              /* what their names end in; NULL: anything      */
	struct takes takes[TAKES_MOST]; /* as --help shows them; --help itself goes without saying */
};

/* The rows of the options that a verb takes, --help last, in row; returns how many. */
int command_options(const struct command *c, struct option_row row[TAKES_MOST + 1]);

/* The table of all options, for who documents or completes them. */
const struct option_row *command_table(int *n);

/* Reads the verb's command line and hands it to run. argv[0] is the verb. Returns the exit code. */
int command_run(const struct command *c, int (*run)(const struct choice *o), int argc, char **argv);

/* Prints what --help prints. The exit code. */
int command_help(const struct command *c);

/* Complains on stderr and gives the exit code. */
int command_fail(const struct fault *why);

/* Flushes stdout; the exit code, 1 when not all could be written. */
int command_end(void);

#endif
