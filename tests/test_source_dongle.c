#include "tests/test.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/source.h"
#include "tests/dongle_steps.h"
#include "tests/fake_rtlsdr.h"

static const struct {
	const char     *why, *arg;
	int             count;
	const char     *serial[3];
	int             strings, open, tuner;
	enum fault_kind kind;           /* FAULT_NONE: opens */
	const char     *text;           /* of the fault, else of the calls made */
} opened[] = {
	{ "none plugged in", "", 0, { 0 }, 0, 0, 5, FAULT_RETRY,
	  "dongle: none found, check that it is plugged in and that lsusb lists it" },
	{ "none plugged in, named", "A1", 0, { 0 }, 0, 0, 5, FAULT_RETRY, "dongle A1: none found" },
	{ "the only one", "", 1, { "A1" }, 0, 0, 5, FAULT_NONE, "open 0;" },
	{ "two, none named", "", 2, { "A1", "A2" }, 0, 0, 5, FAULT_INPUT, "2 are plugged in, name one: dongle:SERIAL" },
	{ "by serial", "A2", 2, { "A1", "A2" }, 0, 0, 5, FAULT_NONE, "open 1;" },
	{ "by index", "1", 2, { "A1", "A2" }, 0, 0, 5, FAULT_NONE, "open 1;" },
	{ "a serial goes before an index", "1", 3, { "A1", "A2", "1" }, 0, 0, 5, FAULT_NONE, "open 2;" },
	{ "no such serial", "A3", 2, { "A1", "A2" }, 0, 0, 5, FAULT_RETRY, "dongle A3: none of the 2 plugged in" },
	{ "no such index", "2", 2, { "A1", "A2" }, 0, 0, 5, FAULT_RETRY, "dongle 2: none of the 2 plugged in" },
	{ "one serial twice", "A1", 2, { "A1", "A1" }, 0, 0, 5, FAULT_INPUT, "2 have this serial, name it by index" },
	{ "serials may not be read", "A1", 1, { "A1" }, -3, 0, 5, FAULT_RETRY, "60-librtlsdr0.rules" },
	{ "no permission", "", 1, { "A1" }, 0, -3, 5, FAULT_RETRY, "put this user into group plugdev" },
	{ "busy or the kernel's", "", 1, { "A1" }, 0, -6, 5, FAULT_RETRY, "modprobe -r dvb_usb_rtl28xxu" },
	{ "gone while opening", "", 1, { "A1" }, 0, -4, 5, FAULT_RETRY, "dongle A1: opening failed: it vanished" },
	{ "a code we do not know", "", 1, { "A1" }, 0, -99, 5, FAULT_RETRY, "failed with code -99" },
	{ "opens, but no tuner answers", "", 1, { "A1" }, 0, 0, 0, FAULT_RETRY, "its tuner does not answer" },
};

static void finds_it_or_says_why(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof opened / sizeof opened[0]; i++) {
		struct fault why;
		fake_reset();
		fake.count = opened[i].count;
		memcpy(fake.serial, opened[i].serial, sizeof opened[i].serial);
		fake.strings_result = opened[i].strings;
		fake.open_result = opened[i].open;
		fake.tuner = opened[i].tuner;
		void *self = open_named(opened[i].arg, &why);
		if (!self != (opened[i].kind != FAULT_NONE))
			fail_msg("%s: opened %d, %s", opened[i].why, self != NULL, why.text);
		if (!self)
			check_fault(opened[i].why, &why, opened[i].kind, opened[i].text);
		else if (strncmp(fake.log, opened[i].text, strlen(opened[i].text)) != 0)
			fail_msg("%s: did %s", opened[i].why, fake.log);
		source_dongle.close(self);
	}
}

static void sets_up_in_order_and_tidies(void **state)
{
	struct tuning to = { FREQ_HZ(145000000), 2400000, 38.25, 300 };
	struct source_about a;
	struct fault why;
	struct block b;
	(void)state;

	fake.lost_cancels = 3;
	void *self = open_named("", &why);
	assert_non_null(self);
	source_dongle.about(self, &a);
	assert_string_equal(a.label, "dongle 00000001, R820T");
	assert_true(a.tunable);
	assert_false(a.virtual_clock);
	if (source_dongle.tune(self, &to, &why) < 0)
		fail_msg("%s", why.text);
	assert_string_equal(fake.log, "open 0;bias 0;ppm 38;rate 2400000;manual 1;gain 297;agc 0;"
			    "centre 145000000;flush 0;");
	assert_int_equal(source_dongle.read(self, 30000, &b, &why), SOURCE_BLOCK);
	assert_int_equal(b.n, 30000);
	assert_int_equal(b.rate_hz, 2400000);
	/* A quarter of a ppm is left over: the tuner stands 36.25 Hz high. */
	assert_int_equal(b.centre.thirds, 3 * INT64_C(145000000) + 109);
	assert_false(b.gap);
	assert_true(labs(b.start_us / 1000000 - time(NULL)) < 600);
	fake.log[0] = '\0';
	source_dongle.close(self);
	assert_string_equal(fake.log, "bias 0;close 0;");
}

static const struct {
	const char   *why;
	struct tuning to;
	const char   *did;
} retunes[] = {
	{ "a hop sets the centre alone", TUNING(146000000), "centre 146000000;" },
	{ "the same again does nothing", TUNING(146000000), "" },
	{ "gain before centre", { FREQ_HZ(146000000), 2400000, 0, 14 }, "gain 14;centre 146000000;" },
	{ "a fraction of a ppm is ours alone", { FREQ_HZ(146000000), 2400000, 0.4, 14 }, "centre 146000000;" },
	{ "a whole ppm needs the rate as well", { FREQ_HZ(146000000), 2400000, 1, 14 },
	  "ppm 1;rate 2400000;centre 146000000;" },
	{ "another rate", { FREQ_HZ(146000000), 1024000, 1, 14 }, "rate 1024000;centre 146000000;" },
	{ "thirds of a hertz go to the nearest", { { INT64_C(363925000) }, 1024000, 1, 14 }, "centre 121308333;" },
};

static void retunes_what_changed(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	void *self = open_named("", &why);
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	for (size_t i = 0; i < sizeof retunes / sizeof retunes[0]; i++) {
		fake.log[0] = '\0';
		if (source_dongle.tune(self, &retunes[i].to, &why) < 0)
			fail_msg("%s: %s", retunes[i].why, why.text);
		if (strcmp(fake.log, retunes[i].did) != 0)
			fail_msg("%s: did %s", retunes[i].why, fake.log);
		if (source_dongle.read(self, 1000, &b, &why) != SOURCE_BLOCK)
			fail_msg("%s: %s", retunes[i].why, why.text);
		assert_int_equal(b.rate_hz, retunes[i].to.rate_hz);
	}
	assert_int_equal(b.centre.thirds, 3 * INT64_C(121308333));
	source_dongle.close(self);
}

static const struct {
	const char   *why;
	struct tuning to;
	const char   *fault;
} impossible[] = {
	{ "below, where it would land on 1650 MHz", TUNING(24000000), "centre is 24.000 MHz, must be 26 to 1766 for its R820T" },
	{ "just below", TUNING(25999999), "centre is 25.999999 MHz" },
	{ "just above", TUNING(1766000001), "must be 26 to 1766" },
	{ "beyond 32 bits", TUNING(INT64_C(5000000000)), "centre is 5000.000 MHz" },
	{ "negative", TUNING(-100000000), "centre is -100.000 MHz" },
	{ "a rate between its two ranges", { FREQ_HZ(145000000), 500000, 0, 0 }, "rate is 500000 S/s" },
	{ "too fast", { FREQ_HZ(145000000), 3200001, 0, 0 }, "rate is 3200001 S/s" },
	{ "no rate", { FREQ_HZ(145000000), 0, 0, 0 }, "rate is 0 S/s" },
	{ "absurd ppm", { FREQ_HZ(145000000), 2400000, 1e9, 0 }, "ppm is 1e+09, must be -500 to 500" },
};

/* The library would take some of these without a word. */
static void refuses_before_calling(void **state)
{
	struct fault why;
	(void)state;

	void *self = open_named("", &why);
	fake.log[0] = '\0';
	for (size_t i = 0; i < sizeof impossible / sizeof impossible[0]; i++) {
		if (source_dongle.tune(self, &impossible[i].to, &why) == 0)
			fail_msg("%s: was taken", impossible[i].why);
		check_fault(impossible[i].why, &why, FAULT_INPUT, impossible[i].fault);
		assert_string_equal(fake.log, "");
	}
	source_dongle.close(self);
}

static void a_refused_write_is_repeated_once(void **state)
{
	struct tuning to = TUNING(145000000), next = TUNING(146000000);
	struct fault why;
	struct block b;
	(void)state;

	void *self = open_named("", &why);
	fake.refuse = "centre";
	fake.refuse_code = -9;
	fake.refuse_times = 1;
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	fake.refuse_times = 2;
	assert_int_equal(source_dongle.tune(self, &next, &why), -1);
	check_fault("twice", &why, FAULT_RETRY, "dongle 00000001: tuning failed: it refused");
	assert_int_equal(source_dongle.read(self, 100, &b, &why), SOURCE_FAULT);
	check_fault("half tuned", &why, FAULT_RETRY, "is not tuned");
	fake.log[0] = '\0';
	assert_int_equal(source_dongle.tune(self, &next, &why), 0);
	assert_string_equal(fake.log, "bias 0;close 0;open 0;bias 0;ppm 0;rate 2400000;manual 1;"
			    "gain 297;agc 0;centre 146000000;flush 0;");
	assert_int_equal(source_dongle.read(self, 100, &b, &why), SOURCE_BLOCK);
	source_dongle.close(self);
}

static const struct {
	const char *why;
	int         deliveries;
	bool        vanish, tunes;
	const char *fault;
} ends[] = {
	{ "silent from the start", 0, false, false, "no samples within 2 s of the start" },
	{ "vanishes at the start", 0, true, false, "no samples within 2 s of the start" },
	{ "falls silent", 60, false, true, "no samples for 1 s" },
	{ "is pulled out", 60, true, true, "it vanished, plug it in again" },
};

static void a_lost_stream_is_a_fault(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
		struct tuning to = TUNING(145000000);
		struct fault why;
		struct block b;
		int r = SOURCE_BLOCK;
		fake_reset();
		fake.deliveries = ends[i].deliveries;
		fake.vanish = ends[i].vanish;
		void *self = open_named("", &why);
		if ((source_dongle.tune(self, &to, &why) == 0) != ends[i].tunes)
			fail_msg("%s: %s", ends[i].why, why.text);
		for (int k = 0; ends[i].tunes && r == SOURCE_BLOCK && k < 1000; k++)
			r = source_dongle.read(self, 8192, &b, &why);
		check_fault(ends[i].why, &why, FAULT_RETRY, ends[i].fault);
		source_dongle.close(self);
		if (!strstr(fake.log, "bias 0;close 0;"))
			fail_msg("%s: left open: %s", ends[i].why, fake.log);
	}
}

/* Closing under a hung reader would never return. */
static void a_hung_reader_is_left_alone(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	(void)state;

	fake.hang = true;
	void *self = open_named("", &why);
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	fake.log[0] = '\0';
	source_dongle.close(self);
	assert_string_equal(fake.log, "");
}

static void rest_leaves_no_old_samples(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block before, after;
	(void)state;

	void *self = open_named("", &why);
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	assert_int_equal(source_dongle.read(self, 8192, &before, &why), SOURCE_BLOCK);
	int64_t before_us = before.mono_us;
	source_dongle.rest(self, 100000);
	assert_int_equal(source_dongle.read(self, 8192, &after, &why), SOURCE_BLOCK);
	if (after.mono_us < before_us + 90000)
		fail_msg("the block after 100 ms of rest is %lld us younger",
			 (long long)(after.mono_us - before_us));
	source_dongle.close(self);
}

/* Stands in, so that nothing of the town is linked here. */
const struct source_ops source_town = { .name = "town" };

static const struct {
	const char              *spec;
	const struct source_ops *ops;
	const char              *arg;
} specs[] = {
	{ "dongle", &source_dongle, "" },
	{ "dongle:", &source_dongle, "" },
	{ "dongle:00000001", &source_dongle, "00000001" },
	{ "recording:/a/b:c.cu8", &source_recording, "/a/b:c.cu8" },
	{ "town:small.conf", &source_town, "small.conf" },
	{ "", NULL, NULL },
	{ ":dongle", NULL, NULL },
	{ "dong", NULL, NULL },
	{ "dongles:1", NULL, NULL },
	{ "Dongle", NULL, NULL },
};

static void sources_by_name(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof specs / sizeof specs[0]; i++) {
		struct fault why = { 0 };
		const char *arg = NULL;
		if (source_named(specs[i].spec, &arg, &why) != specs[i].ops)
			fail_msg("\"%s\" names another source", specs[i].spec);
		if (specs[i].ops)
			assert_string_equal(arg, specs[i].arg);
		else
			check_fault(specs[i].spec, &why, FAULT_INPUT, "must be dongle, dongle:SERIAL");
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sources_by_name),
		cmocka_unit_test_setup(finds_it_or_says_why, reset),
		cmocka_unit_test_setup(sets_up_in_order_and_tidies, reset),
		cmocka_unit_test_setup(retunes_what_changed, reset),
		cmocka_unit_test_setup(refuses_before_calling, reset),
		cmocka_unit_test_setup(a_refused_write_is_repeated_once, reset),
		cmocka_unit_test_setup(a_lost_stream_is_a_fault, reset),
		cmocka_unit_test_setup(rest_leaves_no_old_samples, reset),
		cmocka_unit_test_setup(a_hung_reader_is_left_alone, reset),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
