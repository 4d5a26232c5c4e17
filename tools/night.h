#ifndef BANDCENSUS_TOOLS_NIGHT_H
#define BANDCENSUS_TOOLS_NIGHT_H

#include "tools/plan/suspect.h"

/* Reads what one site of a survey file heard (tools/site.h; NULL: the only one) into a census
 * at a squelch. Hours of the week are those of this computer's zone. NULL with why filled. */
struct census *night_read(const char *path, const char *site, int squelch_ddb, struct fault *why);

#endif
