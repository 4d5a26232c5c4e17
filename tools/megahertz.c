#include "tools/megahertz.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LOWEST_MHZ  0.1
#define HIGHEST_MHZ 6000.0

int megahertz_read(const char *text, struct freq *out)
{
	char with_unit[32];

	if (!*text || text[strspn(text, "0123456789.")] ||
	    strchr(text, '.') != strrchr(text, '.') || strlen(text) > 18)
		return -1;
	double mhz = strtod(text, NULL);
	if (!(mhz >= LOWEST_MHZ && mhz <= HIGHEST_MHZ))
		return -1;
	snprintf(with_unit, sizeof with_unit, "%s MHz", text);
	if (freq_parse(with_unit, out) < 0)
		*out = freq_from_hz(1e6 * mhz);
	return 0;
}
