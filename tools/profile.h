#ifndef BANDCENSUS_TOOLS_PROFILE_H
#define BANDCENSUS_TOOLS_PROFILE_H

#include "store/settings.h"

/* The tables of the settings files that tools read. */
extern const struct field receiver_fields[];
extern const struct field interests_fields[];

/* -1 with why unless the file says it is of that kind. */
int profile_kind(const char *path, const char *kind, struct fault *why);

#endif
