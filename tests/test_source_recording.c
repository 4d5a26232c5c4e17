#include "tests/test.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/source.h"
#include "tests/fault_check.h"
#include "tests/folder.h"

static void *open_file(const struct folder *f, const char *name, int32_t rate_hz, int64_t centre_hz,
		       struct fault *why)
{
	char path[128];
	snprintf(path, sizeof path, "%s/%s", f->path, name);
	struct source_request q = { .arg = path, .rate_hz = rate_hz, .centre = FREQ_HZ(centre_hz) };
	memset(why, 0, sizeof *why);
	return source_recording.open(&q, why);
}

#define META(type, more, capture) \
	"{\"global\": {\"core:datatype\": \"" type "\"" more "}, \"captures\": [{" capture "}]}"
#define RATE1M ", \"core:sample_rate\": 1000000"
#define AT100M "\"core:frequency\": 100000000"

static const struct {
	const char *why, *meta;
	size_t      bytes;
	int32_t     rate_hz;
	int64_t     centre_hz;
	const char *fault;              /* NULL: opens */
} opened[] = {
	{ "raw without a rate", NULL, 8, 0, 100, "x.cu8: a raw recording has no rate of its own, give --rate HZ" },
	{ "raw without a centre", NULL, 8, 48000, 0, "a raw recording has no centre of its own, give --centre HZ" },
	{ "raw, all given", NULL, 8, 48000, 100, NULL },
	{ "lowest rate less one", NULL, 8, 47999, 100, "rate is 47999 S/s, must be 48000 to 3200000" },
	{ "highest rate", NULL, 8, 3200000, 100, NULL },
	{ "highest rate and one", NULL, 8, 3200001, 100, "rate is 3200001 S/s" },
	{ "negative rate", NULL, 8, -5, 100, "rate is -5 S/s" },
	{ "negative centre", NULL, 8, 48000, -100, "centre is below 0 Hz" },
	{ "half a pair at the end", NULL, 7, 48000, 100, "ends in the middle of a sample, 1 bytes after" },
	{ "nothing in it", NULL, 0, 48000, 100, "holds no samples" },
	{ "all said", META("cu8", RATE1M, AT100M), 8, 0, 0, NULL },
	{ "said and asked alike", META("cu8", RATE1M, AT100M), 8, 1000000, 100000000, NULL },
	{ "rate contradicts", META("cu8", RATE1M, AT100M), 8, 2000000, 0,
	  "x.sigmf-meta: says 1000000 S/s but --rate is 2000000, leave --rate out" },
	{ "centre contradicts", META("cu8", RATE1M, AT100M), 8, 0, 99000000,
	  "says 100.000 MHz but --centre is 99.000 MHz, leave --centre out" },
	{ "rate not said", META("cu8", "", AT100M), 8, 0, 0, "it names no rate of its own, give --rate HZ" },
	{ "centre not said", META("cu8", RATE1M, ""), 8, 0, 0, "it names no centre of its own, give --centre HZ" },
	{ "what is not said is given", META("cu8", "", ""), 8, 48000, 100, NULL },
	{ "three bytes of ci16", META("ci16_le", RATE1M, AT100M), 7, 0, 0, "3 bytes after the last whole one of 4" },
	{ "cut float", META("cf32_le", RATE1M, AT100M), 12, 0, 0, "4 bytes after the last whole one of 8" },
	{ "start at the end", META("cu8", RATE1M, AT100M ", \"core:sample_start\": 4"), 8, 0, 0,
	  "has 4 samples, but a capture begins at sample 4, it was cut short" },
	{ "a later capture begins at the end", META("cu8", RATE1M, AT100M "}, {\"core:sample_start\": 4"), 8, 0, 0,
	  "has 4 samples, but a capture begins at sample 4, it was cut short" },
	{ "a later capture just before the end", META("cu8", RATE1M, AT100M "}, {\"core:sample_start\": 3"), 8, 0, 0,
	  NULL },
	{ "start just before the end", META("cu8", RATE1M, AT100M ", \"core:sample_start\": 3"), 8, 0, 0, NULL },
	{ "start far off", META("cu8", RATE1M, AT100M ", \"core:sample_start\": 9007199254740992"), 8, 0, 0,
	  "begins at sample 9007199254740992" },
	{ "header beyond the end", META("cu8", RATE1M, AT100M ", \"core:header_bytes\": 9"), 8, 0, 0,
	  "has 8 bytes, fewer than its 9 of header and trailer" },
	{ "header is all", META("cu8", RATE1M, AT100M ", \"core:header_bytes\": 8"), 8, 0, 0, "holds no samples" },
	{ "odd header, odd file", META("cu8", RATE1M, AT100M ", \"core:header_bytes\": 3"), 7, 0, 0, NULL },
	{ "not JSON", "{", 8, 0, 0, "x.sigmf-meta:1: is not JSON" },
	{ "data elsewhere", META("cu8", RATE1M ", \"core:dataset\": \"y.raw\"", AT100M), 8, 0, 0,
	  "y.raw: can't be read: No such file" },
};

static void opens_or_says_why(void **state)
{
	static const uint8_t bytes[64];
	struct folder *f = *state;

	for (size_t i = 0; i < sizeof opened / sizeof opened[0]; i++) {
		struct fault why;
		const char *name = opened[i].meta ? "x.sigmf-data" : "x.cu8";
		const char *fault = opened[i].fault;
		write_file(f, name, bytes, opened[i].bytes);
		if (opened[i].meta)
			write_file(f, "x.sigmf-meta", opened[i].meta, strlen(opened[i].meta));
		void *self = open_file(f, opened[i].meta ? "x" : name, opened[i].rate_hz,
				       opened[i].centre_hz, &why);
		if (!fault && !self)
			fail_msg("%s: %s", opened[i].why, why.text);
		if (fault)
			check_fault(opened[i].why, &why, FAULT_INPUT, fault);
		source_recording.close(self);
		remove_file(f, name);
		if (opened[i].meta)
			remove_file(f, "x.sigmf-meta");
	}
}

static void three_names_of_one_recording(void **state)
{
	static const char *const names[] = { "n", "n.sigmf-meta", "n.sigmf-data" };
	struct folder *f = *state;
	const char *meta = META("ci8", RATE1M, AT100M);
	struct fault why;

	write_file(f, "n.sigmf-meta", meta, strlen(meta));
	write_file(f, "n.sigmf-data", "\1\2\3\4", 4);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		struct source_about a;
		void *self = open_file(f, names[i], 0, 0, &why);
		if (!self)
			fail_msg("%s: %s", names[i], why.text);
		source_recording.about(self, &a);
		assert_string_equal(a.label, "recording n.sigmf-data");
		assert_int_equal(a.rate_hz, 1000000);
		assert_int_equal(a.centre.thirds, FREQ_KHZ(100000).thirds);
		assert_int_equal(a.length_us, 2);
		assert_int_equal(a.start_us, 0);
		assert_false(a.tunable);
		assert_true(a.virtual_clock);
		source_recording.close(self);
	}
	/* A raw file of the very name goes before a description of the stem. */
	write_file(f, "n", "\1\2\3\4", 4);
	assert_null(open_file(f, "n", 0, 0, &why));
	check_fault("raw by its whole name", &why, FAULT_INPUT, "a raw recording has no rate");
}

static void names_that_are_no_recording(void **state)
{
	struct folder *f = *state;
	struct source_request q = { .arg = "", .rate_hz = 48000, .centre = FREQ_HZ(100) };
	struct fault why = { 0 };
	char path[128];

	assert_null(source_recording.open(&q, &why));
	check_fault("no name", &why, FAULT_INPUT, "names no file, give recording:FILE");
	assert_null(open_file(f, "absent.cu8", 48000, 100, &why));
	check_fault("absent", &why, FAULT_INPUT, "absent.cu8: can't be read: No such file or directory");
	assert_null(open_file(f, "absent.sigmf-data", 48000, 100, &why));
	check_fault("description absent", &why, FAULT_INPUT,
		    "absent.sigmf-meta: can't be read: No such file or directory");
	assert_null(open_file(f, "x.sigmf", 48000, 100, &why));
	check_fault("archive", &why, FAULT_INPUT, "unpack it with tar first");
	assert_null(open_file(f, ".", 48000, 100, &why));
	check_fault("folder", &why, FAULT_INPUT, "can't be read: is a folder");
	snprintf(path, sizeof path, "%s/pipe", f->path);
	assert_int_equal(mkfifo(path, 0600), 0);
	assert_null(open_file(f, "pipe", 48000, 100, &why));
	check_fault("pipe", &why, FAULT_INPUT, "is no ordinary file");
	/* Neither as its description, where nobody would ever write. */
	snprintf(path, sizeof path, "%s/pipe.sigmf-meta", f->path);
	assert_int_equal(mkfifo(path, 0600), 0);
	assert_null(open_file(f, "pipe.sigmf-meta", 0, 0, &why));
	check_fault("pipe for a description", &why, FAULT_INPUT, "pipe.sigmf-meta: can't be read: is no ordinary file");
}

static void samples_and_times(void **state)
{
	struct folder *f = *state;
	const char *meta =
	    META("cu8", ", \"core:sample_rate\": 300000",
		 AT100M ", \"core:sample_start\": 2, "
			"\"core:header_bytes\": 3, \"core:datetime\": \"2024-05-06T07:08:09Z\"");
	uint8_t bytes[3 + 2 * 1002];
	struct fault why;
	struct block b;

	for (size_t i = 0; i < sizeof bytes; i++)
		bytes[i] = (uint8_t)(i * 7);
	write_file(f, "t.sigmf-meta", meta, strlen(meta));
	write_file(f, "t.sigmf-data", bytes, sizeof bytes);
	void *self = open_file(f, "t", 0, 0, &why);
	assert_non_null(self);
	for (int round = 0; round < 2; round++) {
		size_t at = 0;
		int r;
		while ((r = source_recording.read(self, 70, &b, &why)) == SOURCE_BLOCK) {
			assert_int_equal(b.n, at + 70 <= 1000 ? 70 : 1000 - at);
			assert_memory_equal(b.iq, bytes + 3 + 2 * (2 + at), 2 * b.n);
			assert_int_equal(b.start_us,
					 INT64_C(1714979289000000) + (int64_t)at * 10 / 3);
			assert_int_equal(b.mono_us, b.start_us);
			assert_int_equal(b.rate_hz, 300000);
			assert_int_equal(b.format, SAMPLE_CU8);
			assert_int_equal(b.centre.thirds, FREQ_KHZ(100000).thirds);
			assert_false(b.gap);
			source_recording.rest(self, 1000000);   /* skips nothing */
			at += b.n;
		}
		assert_int_equal(r, SOURCE_END);
		assert_int_equal(at, 1000);
		assert_int_equal(source_recording.restart(self, &why), 0);
	}
	source_recording.close(self);
}

static void times_do_not_drift_in_a_day(void **state)
{
	struct folder *f = *state;
	struct fault why;
	struct block b;
	struct source_about a;
	char path[128];
	int64_t day = INT64_C(86400) * 3199999;

	/* A sparse file: half a terabyte of zeros that takes no room. */
	write_file(f, "day.cu8", "", 0);
	snprintf(path, sizeof path, "%s/day.cu8", f->path);
	if (truncate(path, 2 * (day + 1)) < 0)
		skip();
	const char *meta =
	    META("cu8", ", \"core:sample_rate\": 3199999, \"core:dataset\": \"day.cu8\"", AT100M);
	write_file(f, "day.sigmf-meta", meta, strlen(meta));
	void *self = open_file(f, "day.sigmf-meta", 0, 0, &why);
	assert_non_null(self);
	source_recording.about(self, &a);
	assert_int_equal(a.length_us, INT64_C(86400000000));
	source_recording.close(self);
	char late[512];
	snprintf(late, sizeof late,
		 "{\"global\": {\"core:datatype\": \"cu8\", \"core:sample_rate\": 3199999, "
		 "\"core:dataset\": \"day.cu8\"}, \"captures\": [{\"core:frequency\": 1e8, "
		 "\"core:sample_start\": %lld}]}",
		 (long long)day);
	write_file(f, "day.sigmf-meta", late, strlen(late));
	self = open_file(f, "day.sigmf-meta", 0, 0, &why);
	assert_non_null(self);
	assert_int_equal(source_recording.read(self, 9, &b, &why), SOURCE_BLOCK);
	assert_int_equal(b.n, 1);
	source_recording.close(self);
}

static const struct {
	const char *why;
	float       value;
	bool        fine;
} floats[] = {
	{ "full scale", 1, true },
	{ "a file in units of the converter", -32768, true },
	{ "smaller than normal numbers", FLT_MIN / 8, true },
	{ "not a number", NAN, false },
	{ "infinite", INFINITY, false },
	{ "minus infinite", -INFINITY, false },
	{ "its square is no float", FLT_MAX, false },
};

static void floats_must_be_numbers(void **state)
{
	struct folder *f = *state;
	const char *meta = META("cf32_le", RATE1M, AT100M);

	write_file(f, "f.sigmf-meta", meta, strlen(meta));
	for (size_t i = 0; i < sizeof floats / sizeof floats[0]; i++) {
		float iq[40] = { 0 };
		struct fault why;
		struct block b;
		iq[2 * 17 + 1] = floats[i].value;
		write_file(f, "f.sigmf-data", iq, sizeof iq);
		void *self = open_file(f, "f", 0, 0, &why);
		assert_non_null(self);
		assert_int_equal(source_recording.read(self, 10, &b, &why), SOURCE_BLOCK);
		int r = source_recording.read(self, 10, &b, &why);
		if (r != (floats[i].fine ? SOURCE_BLOCK : SOURCE_FAULT))
			fail_msg("%s: got %d", floats[i].why, r);
		if (!floats[i].fine)
			check_fault(floats[i].why, &why, FAULT_INPUT,
				    "f.sigmf-data: sample 17 is ");
		source_recording.close(self);
	}
}

static void tunes_to_itself_alone(void **state)
{
	struct folder *f = *state;
	struct fault why;
	struct tuning own = { FREQ_KHZ(100000), 48000, 38.2, 297 }, other = own;

	write_file(f, "u.cu8", "abcd", 4);
	void *self = open_file(f, "u.cu8", 48000, 100000000, &why);
	assert_non_null(self);
	assert_int_equal(source_recording.tune(self, &own, &why), 0);
	other.centre.thirds += 1;
	assert_int_equal(source_recording.tune(self, &other, &why), -1);
	check_fault("a third of a hertz off", &why, FAULT_INPUT,
		    "is of 100.000 MHz at 48000 S/s, can't be tuned");
	other = own;
	other.rate_hz++;
	assert_int_equal(source_recording.tune(self, &other, &why), -1);
	check_fault("another rate", &why, FAULT_INPUT, "at 48001 S/s");
	source_recording.close(self);
}

static void becomes_shorter_while_read(void **state)
{
	struct folder *f = *state;
	struct fault why;
	struct block b;
	char path[128];

	write_file(f, "v.cu8", "abcdefgh", 8);
	void *self = open_file(f, "v.cu8", 48000, 100, &why);
	assert_non_null(self);
	assert_int_equal(source_recording.read(self, 2, &b, &why), SOURCE_BLOCK);
	snprintf(path, sizeof path, "%s/v.cu8", f->path);
	assert_int_equal(truncate(path, 5), 0);
	assert_int_equal(source_recording.read(self, 2, &b, &why), SOURCE_FAULT);
	check_fault("cut", &why, FAULT_FATAL, "became shorter while it was read");
	source_recording.close(self);
}

/* Off-air recordings, when they are at hand: they open, and hold what is said. */
static const struct {
	const char *name;
	int32_t     rate_hz;
	int64_t     centre_hz;
	int64_t     n;
	double      clipped_min, clipped_max;
} real[] = {
	{ "nfm-over-a_144.470M_280k.cu8", 280000, 144470000, 840000, 0, 0.001 },
	{ "meter-bursts_868.950M_1600k.cu8", 1600000, 868950000, 1048576, 0.001, 0.02 },
	{ "toy-remote_2475.000M_2000k", 0, 0, 123861, 0, 0.001 },
	{ "fsk-single_1000k", 0, 433000000, 194642, 0, 0 },
};

static void real_recordings(void **state)
{
	const char *folder = getenv("BANDCENSUS_RECORDINGS");
	(void)state;

	if (!folder)
		skip();
	for (size_t i = 0; i < sizeof real / sizeof real[0]; i++) {
		char path[512];
		struct fault why = { 0 };
		struct block b;
		int64_t n = 0;
		double clipped = 0;
		snprintf(path, sizeof path, "%s/%s", folder, real[i].name);
		struct source_request q = { .arg = path, .rate_hz = real[i].rate_hz,
					    .centre = FREQ_HZ(real[i].centre_hz) };
		void *self = source_recording.open(&q, &why);
		if (!self)
			fail_msg("%s", why.text);
		while (source_recording.read(self, 4096, &b, &why) == SOURCE_BLOCK) {
			clipped += block_clipped(&b) * (double)b.n;
			n += (int64_t)b.n;
		}
		clipped /= (double)n;
		if (n != real[i].n || clipped < real[i].clipped_min ||
		    clipped > real[i].clipped_max)
			fail_msg("%s: %lld samples, %g of them clipped", path, (long long)n,
				 clipped);
		source_recording.close(self);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(opens_or_says_why),
		cmocka_unit_test(three_names_of_one_recording),
		cmocka_unit_test(names_that_are_no_recording),
		cmocka_unit_test(samples_and_times),
		cmocka_unit_test(times_do_not_drift_in_a_day),
		cmocka_unit_test(floats_must_be_numbers),
		cmocka_unit_test(tunes_to_itself_alone),
		cmocka_unit_test(becomes_shorter_while_read),
		cmocka_unit_test(real_recordings),
	};
	return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
