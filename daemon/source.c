#include "daemon/source.h"

#include <string.h>

static const struct source_ops *const sources[] = {
	&source_dongle, &source_recording, &source_town,
};

const struct source_ops *source_named(const char *spec, const char **arg, struct fault *why)
{
	size_t n = strcspn(spec, ":");

	for (size_t i = 0; i < sizeof sources / sizeof sources[0]; i++) {
		if (strlen(sources[i]->name) != n || memcmp(sources[i]->name, spec, n) != 0)
			continue;
		*arg = spec[n] ? spec + n + 1 : spec + n;
		return sources[i];
	}
	fault_set(why, FAULT_INPUT,
		  "source is \"%s\", must be dongle, dongle:SERIAL, recording:FILE or town:FILE",
		  spec);
	return NULL;
}
