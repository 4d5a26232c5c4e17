#ifndef BANDCENSUS_TOOLS_VERBS_H
#define BANDCENSUS_TOOLS_VERBS_H

#include "tools/command.h"

/* The verbs, as --help shows them. What is said of each is a row of verbs.c; what each does is in the
 * file cmd_NAME.c, and main.c brings both together. */
enum verb {
	VERB_STATUS,
	VERB_CHANNELS,
	VERB_PLAN,
	VERB_REPORT,
	VERB_PICTURE,
	VERB_REHEARSE,
	VERB_RASTERS,
	VERB_CHECK,
	VERB_MERGE,
	VERB_COMPARE,
	VERB_RESCUE,
	VERB_THIN,
	VERB_SETUP,
	VERB_HELP,
	VERBS
};

extern const struct command commands[VERBS];

/* Each returns the exit code; help is in main.c. */
int verb_status(const struct choice *o);
int verb_channels(const struct choice *o);
int verb_plan(const struct choice *o);
int verb_report(const struct choice *o);
int verb_picture(const struct choice *o);
int verb_rehearse(const struct choice *o);
int verb_rasters(const struct choice *o);
int verb_check(const struct choice *o);
int verb_merge(const struct choice *o);
int verb_compare(const struct choice *o);
int verb_rescue(const struct choice *o);
int verb_thin(const struct choice *o);
int verb_setup(const struct choice *o);

#endif
