#include "dsp/emission.h"

const char *kind_name(enum kind k)
{
	static const char *const names[KIND_COUNT] = {
		"unknown", "carrier", "am", "nfm", "wfm", "data", "noise",
	};
	return (unsigned)k < KIND_COUNT ? names[k] : names[KIND_UNKNOWN];
}
