#ifndef BANDCENSUS_TOOLS_VERBS_H
#define BANDCENSUS_TOOLS_VERBS_H

#include "tools/command.h"

/* The verbs, each in the file cmd_NAME.c. */
extern const struct command command_channels, command_check, command_compare, command_merge, command_plan,
	command_rasters, command_rehearse, command_rescue, command_status;

#endif
