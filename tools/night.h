#ifndef BANDCENSUS_TOOLS_NIGHT_H
#define BANDCENSUS_TOOLS_NIGHT_H

#include "tools/plan/suspect.h"

/* Reads a survey file into a census at a squelch. NULL with why filled. */
struct census *night_read(const char *path, int squelch_ddb, struct fault *why);

#endif
