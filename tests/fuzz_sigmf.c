/* Feeds what it is given to the SigMF reader and holds it to its promises.
 * As it is built, it takes files and folders of them and serves as a test over
 * tests/corpus/sigmf. tests/fuzz.sh searches for more. */
#include "tests/fuzz.h"

#include <string.h>

#include "daemon/sigmf.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	struct fault why = { 0 };
	struct sigmf s;
	int64_t us;
	char text[64] = "";

	if (sigmf_parse("x", (const char *)bytes, n, &s, &why) < 0) {
		promise(why.kind == FAULT_INPUT, "a refusal is for a person to mend");
		promise(why.text[0] != '\0', "a refusal says why");
		for (const char *p = why.text; *p; p++)
			promise(*p >= ' ' && *p <= '~', "a refusal is one printable line");
	} else {
		promise((unsigned)s.format < SAMPLE_FORMATS, "format");
		promise(s.rate_hz == 0 || (s.rate_hz >= RECORDING_RATE_MIN && s.rate_hz <= RECORDING_RATE_MAX),
			"rate");
		promise(s.centre.thirds >= 0 && s.centre.thirds <= INT64_C(900000000000), "centre");
		promise(s.first_sample >= 0 && s.header_bytes >= 0 && s.trailing_bytes >= 0, "places");
		promise(!strchr(s.dataset, '/'), "data beside it");
		promise(s.start_us >= 0 && s.start_us < INT64_C(7258118400000000), "time");
	}
	memcpy(text, bytes, n < sizeof text - 1 ? n : sizeof text - 1);
	sigmf_datetime(text, &us);
	return 0;
}
