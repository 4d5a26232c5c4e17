#include "tools/profile.h"

#include <string.h>

int profile_kind(const char *path, const char *kind, struct fault *why)
{
	char is[32];

	if (settings_kind(path, is, sizeof is, why) < 0)
		return -1;
	if (strcmp(is, kind) != 0)
		return fault_set(why, FAULT_INPUT, "%s: kind is \"%s\", must be \"%s\" here", path,
				 is, kind);
	return 0;
}
