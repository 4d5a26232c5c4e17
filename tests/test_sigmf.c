#include "tests/test.h"

#include <stdio.h>
#include <string.h>

#include "daemon/sigmf.h"
#include "tests/fault_check.h"

#define LONG_TEXT 4096

#define G "\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": 1000000, \"core:version\": \"1.0.0\"}"

static const struct {
	const char *why, *text, *fault;
} refused[] = {
	{ "empty", "", "x:1: is not JSON" },
	{ "half", "{\"global\": {", "x:1: is not JSON" },
	{ "line is told", "{\n\n\"global\": }", "x:3: is not JSON" },
	{ "something behind", "{" G ", \"captures\": []} x", "is not JSON" },
	{ "a key twice", "{" G ", " G ", \"captures\": []}", "duplicate" },
	{ "not an object", "[1, 2]", "must hold an object \"global\"" },
	{ "no global", "{\"captures\": []}", "must hold an object \"global\"" },
	{ "global is a list", "{\"global\": [], \"captures\": []}", "must hold an object \"global\"" },
	{ "no captures", "{" G "}", "must hold a list \"captures\"" },
	{ "captures is an object", "{" G ", \"captures\": {}}", "must hold a list \"captures\"" },
	{ "capture is a number", "{" G ", \"captures\": [1]}", "captures[0] must be an object" },
	{ "no datatype", "{\"global\": {}, \"captures\": []}", "core:datatype must be there" },
	{ "datatype is a number", "{\"global\": {\"core:datatype\": 8}, \"captures\": []}",
	  "core:datatype must be there" },
	{ "real samples", "{\"global\": {\"core:datatype\": \"rf32_le\"}, \"captures\": []}",
	  "core:datatype is \"rf32_le\", must be cu8, ci8, ci16_le or cf32_le" },
	{ "big endian", "{\"global\": {\"core:datatype\": \"ci16_be\"}, \"captures\": []}", "\"ci16_be\"" },
	{ "a line break in a name", "{\"global\": {\"core:datatype\": \"a\\nb\\u001b[1m\"}, \"captures\": []}",
	  "\"a?b?[1m\"" },
	{ "rate is text", "{\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": \"1e6\"}, \"captures\": []}",
	  "global core:sample_rate must be a number" },
	{ "rate is negative", "{\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": -1}, \"captures\": []}",
	  "core:sample_rate is -1, must be 48000 to 3200000 S/s" },
	{ "rate is zero", "{\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": 0}, \"captures\": []}",
	  "core:sample_rate is 0" },
	{ "rate is absurd", "{\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": 1e300}, \"captures\": []}",
	  "core:sample_rate is 1e+300" },
	{ "rate is beyond double", "{\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": 1e999}}",
	  "is not JSON" },
	{ "rate of half samples", "{\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": 48000.5},"
	  " \"captures\": []}", "within 1 ppm" },
	{ "two channels", "{\"global\": {\"core:datatype\": \"cu8\", \"core:num_channels\": 2}, \"captures\": []}",
	  "core:num_channels is 2, must be 1 to 1" },
	{ "without samples", "{\"global\": {\"core:datatype\": \"cu8\", \"core:metadata_only\": true},"
	  " \"captures\": []}", "without samples" },
	{ "dataset elsewhere", "{\"global\": {\"core:datatype\": \"cu8\", \"core:dataset\": \"../x\"},"
	  " \"captures\": []}", "core:dataset must be the name of a file beside it" },
	{ "frequency is null", "{" G ", \"captures\": [{\"core:frequency\": null}]}",
	  "captures[0] core:frequency must be a number" },
	{ "frequency is negative", "{" G ", \"captures\": [{\"core:frequency\": -100}]}", "core:frequency is -100" },
	{ "frequency is light", "{" G ", \"captures\": [{\"core:frequency\": 5e14}]}", "core:frequency is 5e+14" },
	{ "half a sample", "{" G ", \"captures\": [{\"core:sample_start\": 1.5}]}", "must be a whole number" },
	{ "start is negative", "{" G ", \"captures\": [{\"core:sample_start\": -1}]}", "core:sample_start is -1" },
	{ "start is beyond 2^53", "{" G ", \"captures\": [{\"core:sample_start\": 9223372036854775807}]}",
	  "core:sample_start is 9.223372037e+18" },
	{ "start before the offset", "{\"global\": {\"core:datatype\": \"cu8\", \"core:offset\": 10},"
	  " \"captures\": [{\"core:sample_start\": 5}]}", "must not be below core:offset 10" },
	{ "header is text", "{" G ", \"captures\": [{\"core:header_bytes\": \"44\"}]}", "must be a number" },
	{ "time is a number", "{" G ", \"captures\": [{\"core:datetime\": 1}]}", "core:datetime must be a string" },
	{ "time without a zone", "{" G ", \"captures\": [{\"core:datetime\": \"2024-05-06T07:08:09\"}]}",
	  "captures[0] core:datetime is \"2024-05-06T07:08:09\", must be like" },
	{ "a retune", "{" G ", \"captures\": [{\"core:sample_start\": 0, \"core:frequency\": 1e8},"
	  " {\"core:sample_start\": 500, \"core:frequency\": 2e8}]}",
	  "captures[1] core:frequency is 200000000 after 100000000 Hz, a recording that is retuned is not read" },
	{ "tuned only later", "{" G ", \"captures\": [{}, {\"core:sample_start\": 5, \"core:frequency\": 2e8}]}",
	  "captures[1] core:frequency is 200000000 after 0 Hz" },
	{ "captures fall back", "{" G ", \"captures\": [{\"core:sample_start\": 9}, {\"core:sample_start\": 5}]}",
	  "captures[1] core:sample_start is 5, must ascend" },
	{ "header in the middle", "{" G ", \"captures\": [{}, {\"core:sample_start\": 5, \"core:header_bytes\": 4}]}",
	  "captures[1] core:header_bytes is 4, must be 0 after the first" },
	{ "a pause", "{" G ", \"captures\": [{\"core:datetime\": \"2024-05-06T07:08:09Z\"},"
	  " {\"core:sample_start\": 1000000, \"core:datetime\": \"2024-05-06T07:09:10Z\"}]}",
	  "captures[1] begins 61.000 s after the first by core:datetime, 1.000 s by its samples" },
};

static void refused_metadata(void **state)
{
	char deep[LONG_TEXT];
	(void)state;
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		struct fault why = { 0 };
		struct sigmf s;
		if (sigmf_parse("x", refused[i].text, strlen(refused[i].text), &s, &why) == 0)
			fail_msg("%s: was taken", refused[i].why);
		check_fault(refused[i].why, &why, FAULT_INPUT, refused[i].fault);
	}
	struct fault why = { 0 };
	struct sigmf s;
	memset(deep, '[', sizeof deep);
	assert_int_equal(sigmf_parse("x", deep, sizeof deep, &s, &why), -1);
	check_fault("nested 4096 deep", &why, FAULT_INPUT, "x:1: is not JSON");
}

static void accepted_metadata(void **state)
{
	/* Keys as the SigMF specification 1.x names them (from memory). */
	static const char text[] =
	    "{\"global\": {\"core:datatype\": \"ci16_le\", \"core:sample_rate\": 1000000.026,"
	    " \"core:offset\": 100, \"core:trailing_bytes\": 8, \"core:dataset\": \"it.raw\","
	    " \"core:num_channels\": 1, \"core:author\": \"\\u00e4\"},"
	    " \"captures\": [{\"core:sample_start\": 107, \"core:header_bytes\": 44,"
	    " \"core:frequency\": 121308333.333, \"core:datetime\": "
	    "\"2024-02-29T23:59:59.987654321Z\"},"
	    " {\"core:sample_start\": 1000107, \"core:datetime\": \"2024-03-01T00:00:01Z\"}],"
	    " \"annotations\": [{\"core:sample_start\": \"whatever\"}]}";
	struct fault why = { 0 };
	struct sigmf s;
	(void)state;

	if (sigmf_parse("x", text, strlen(text), &s, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(s.format, SAMPLE_CI16);
	assert_int_equal(s.rate_hz, 1000000);
	assert_int_equal(s.centre.thirds, INT64_C(363925000));
	assert_int_equal(s.first_sample, 7);
	assert_int_equal(s.last_capture, 1000007);
	assert_int_equal(s.header_bytes, 44);
	assert_int_equal(s.trailing_bytes, 8);
	assert_string_equal(s.dataset, "it.raw");
	assert_int_equal(s.start_us, INT64_C(1709251199987654));        /* date -u -d ... +%s */
}

static const struct {
	const char *text;
	int64_t     us;         /* -1: refused */
} times[] = {
	{ "1970-01-01T00:00:00Z", 0 },
	{ "2024-05-06T07:08:09Z", INT64_C(1714979289000000) },
	{ "2024-05-06T07:08:09.5Z", INT64_C(1714979289500000) },
	{ "2024-05-06T07:08:09.000001999+00:00", INT64_C(1714979289000001) },
	{ "2100-03-01T00:00:00Z", INT64_C(4107542400000000) },
	{ "2023-02-29T00:00:00Z", -1 }, { "2024-13-01T00:00:00Z", -1 }, { "2024-01-32T00:00:00Z", -1 },
	{ "2024-01-01T24:00:00Z", -1 }, { "2024-01-01T00:60:00Z", -1 }, { "2024-01-01T00:00:60Z", -1 },
	{ "1969-12-31T23:59:59Z", -1 }, { "2200-01-01T00:00:00Z", -1 }, { "0000-00-00T00:00:00Z", -1 },
	{ "2024-05-06 07:08:09Z", -1 }, { "2024-05-06T07:08:09.Z", -1 }, { "2024-05-06T07:08:09+02:00", -1 },
	{ "2024-05-06T07:08Z", -1 }, { "2024-5-6T07:08:09Z", -1 }, { "2024-05-06T07:08:09Z ", -1 },
	{ "-024-05-06T07:08:09Z", -1 }, { "", -1 }, { "now", -1 },
};

static void datetimes(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
		int64_t us = -7;
		int r = sigmf_datetime(times[i].text, &us);
		if (r != (times[i].us < 0 ? -1 : 0) || us != (times[i].us < 0 ? -7 : times[i].us))
			fail_msg("%s: got %d, %lld", times[i].text, r, (long long)us);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(refused_metadata),
		cmocka_unit_test(accepted_metadata),
		cmocka_unit_test(datetimes),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
