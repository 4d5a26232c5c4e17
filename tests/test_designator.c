#include "tests/test.h"

#include <string.h>

#include "dsp/designator.h"

static void bandwidths(void **state)
{
	/* 47 CFR 2.202(b)(3), read; the last four worked out. */
	static const struct {
		double hz;
		const char *text;
	} cases[] = {
		{ 0.002, "H002" }, { 0.1, "H100" }, { 25.3, "25H3" }, { 400, "400H" }, { 2400, "2K40" },
		{ 6000, "6K00" }, { 12500, "12K5" }, { 180400, "180K" }, { 180500, "181K" },
		{ 180700, "181K" }, { 1.25e6, "1M25" }, { 2e6, "2M00" }, { 10e6, "10M0" },
		{ 202e6, "202M" }, { 5.65e9, "5G65" },
		{ 999.5, "1K00" }, { 999.4, "999H" }, { 9995, "10K0" }, { 0.0001, "0" },
	};
	char text[DESIGNATOR_TEXT];
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
		if (strcmp(bandwidth_format(text, cases[i].hz), cases[i].text))
			fail_msg("%g Hz: %s, want %s", cases[i].hz, text, cases[i].text);
}

static void designators(void **state)
{
	/* Necessary bandwidths after 47 CFR 2.202(g), from memory, each worked out by
	 * 2 (D + M); telephony DSB 2M, read. */
	static const struct {
		const char *why;
		enum kind kind;
		struct features f;
		bool talks;
		const char *want;
	} cases[] = {
		{ "FM voice on 25 kHz", KIND_NFM, { .deviation_hz = 4600 }, false, "16K0F3E" },
		{ "FM voice on 12.5 kHz", KIND_NFM, { .deviation_hz = 2100 }, false, "11K0F3E" },
		{ "FM voice on 6.25 kHz", KIND_NFM, { .deviation_hz = 1100 }, false, "8K50F3E" },
		{ "AM voice", KIND_AM, { .width_hz = 4500 }, false, "6K00A3E" },
		{ "broadcast FM", KIND_WFM, { .deviation_hz = 60000 }, false, "180KF3E" },
		{ "data are as wide as they are", KIND_DATA, { .width_hz = 8130 }, false, "8K10F1D" },
		{ "digital voice, maybe", KIND_DATA, { .width_hz = 8130 }, true, "8K10F1E" },
		{ "a bare carrier", KIND_CARRIER, { .width_hz = 60 }, false, "N0N" },
		{ "noise has no name", KIND_NOISE, { .width_hz = 60000 }, false, "" },
		{ "nor has what is not known", KIND_UNKNOWN, { .width_hz = 8000 }, false, "" },
	};
	char text[DESIGNATOR_TEXT];
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		designator_format(text, cases[i].kind, &cases[i].f, cases[i].talks);
		if (strcmp(text, cases[i].want))
			fail_msg("%s: %s, want %s", cases[i].why, text, cases[i].want);
	}
	assert_true(carson_hz(5000, 3000) == 16000 && carson_hz(75000, 53000) == 256000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(bandwidths),
		cmocka_unit_test(designators),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
