#ifndef BANDCENSUS_TOOLS_COMMAND_H
#define BANDCENSUS_TOOLS_COMMAND_H

#include <stdbool.h>
#include <stdint.h>

#include "store/fault.h"

/* One verb of bandcensus. */
struct command {
	const char *name;
	const char *words;              /* after it, as --help shows them       */
	const char *help;               /* one line                             */
	const char *options;            /* for its own --help, line by line     */
	int (*run)(int argc, char **argv);      /* argv[0] is the verb; returns the exit code */
};

extern const struct command command_status, command_channels, command_plan, command_rasters,
	command_check, command_merge, command_compare, command_rescue, command_rehearse;

/* Options shared by the verbs. */
struct choice {
	bool        json, csv;
	int         squelch_ddb;
	int         min_overs;
	const char *site;               /* NULL: the only one                   */
	const char *receiver, *interests, *output, *licences, *plan;
	uint64_t    banks;              /* bit bank - 1; 0: not said            */
	char      **file;               /* what is no option                    */
	int         files;
};

#define TAKES_JSON      1u
#define TAKES_CSV       2u
#define TAKES_SQUELCH   4u
#define TAKES_MIN_OVERS 8u
#define TAKES_RECEIVER  16u
#define TAKES_SITE      32u
#define TAKES_LICENCES  64u
#define TAKES_OUTPUT    128u            /* and interests                    */
#define TAKES_PLAN      256u            /* and banks                        */

/* Reads a verb's command line, allowing what takes says and so many files at
 * the least and the most. 0: go on; else the exit code plus 1: --help was
 * printed, or a complaint. */
int command_read(const struct command *c, int argc, char **argv, unsigned takes, int least,
		 int most, struct choice *out);

/* Complains on stderr and gives the exit code. */
int command_fail(const struct fault *why);

/* Flushes stdout; the exit code, 1 when not all could be written. */
int command_end(void);

#endif
