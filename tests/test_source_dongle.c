#include "tests/test.h"

#include <stdlib.h>
#include <math.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

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
		fake->count = opened[i].count;
		for (int k = 0; k < 3 && opened[i].serial[k]; k++)
			strcpy(fake->serial[k], opened[i].serial[k]);
		fake->strings_result = opened[i].strings;
		fake->open_result = opened[i].open;
		fake->tuner = opened[i].tuner;
		void *self = open_named(opened[i].arg, &why);
		if (!self != (opened[i].kind != FAULT_NONE))
			fail_msg("%s: opened %d, %s", opened[i].why, self != NULL, why.text);
		if (!self)
			check_fault(opened[i].why, &why, opened[i].kind, opened[i].text);
		else if (strncmp(fake->log, opened[i].text, strlen(opened[i].text)) != 0)
			fail_msg("%s: did %s", opened[i].why, fake->log);
		source_dongle.close(self);
	}
}

static void sets_up_in_order_and_tidies(void **state)
{
	struct tuning to = { FREQ_HZ(145000000), 2400000, 38.25, 300 };
	struct source_about a;
	struct fault why;
	struct block b;
	char did[200];
	(void)state;

	fake->lost_cancels = 3;
	void *self = open_named("", &why);
	assert_non_null(self);
	source_dongle.about(self, &a);
	assert_string_equal(a.label, "dongle 00000001, R820T");
	assert_true(a.tunable);
	assert_false(a.virtual_clock);
	if (tune_and_read(self, &to, 30000, &b, &why) != SOURCE_BLOCK)
		fail_msg("%s", why.text);
	int32_t asked = synthesiser_ask_hz(145e6, 2400000, 0, 38.25);
	snprintf(did, sizeof did, "open 0;bias 0;rate 2400000;manual 1;gain 297;agc 0;centre %d;test 1;"
		 "flush 0;test 0;", asked);
	assert_string_equal(fake->log, did);
	assert_int_equal(b.n, 30000);
	assert_int_equal(b.rate_hz, 2400000);
	/* Where it truly stands: no more than half a step of the synthesiser, 55 Hz, and
	 * half of what the library rounds from what was wanted, and said to the hertz. */
	assert_true(llabs(b.centre.thirds - FREQ_HZ(145000000).thirds) < 3 * 60);
	assert_true(llabs(b.centre.thirds -
			  llround(3 * synthesiser_stands_hz(asked, 2400000, 0, 38.25))) <= 1);
	assert_false(b.gap);
	assert_true(labs(b.start_us / 1000000 - time(NULL)) < 600);
	fake_forget();
	source_dongle.close(self);
	assert_string_equal(fake->log, "bias 0;close 0;");
}

#define E4000 1                         /* a tuner that lands where it is asked to */

static const struct {
	const char   *why;
	struct tuning to;
	const char   *did;
	int64_t       thirds;           /* where it stands */
} retunes[] = {
	{ "a hop sets the centre alone", TUNING(146000000), "centre 146000000;", 438000000 },
	{ "the same again does nothing", TUNING(146000000), "", 438000000 },
	{ "gain before centre", { FREQ_HZ(146000000), 2400000, 0, 14 }, "gain 14;centre 146000000;", 438000000 },
	{ "so little that the same centre is nearest", { FREQ_HZ(146000000), 2400000, 0.003, 14 }, "", 438000001 },
	{ "more moves the centre and nothing else", { FREQ_HZ(146000000), 2400000, 1, 14 },
	  "centre 145999854;", 438000000 },
	{ "another rate", { FREQ_HZ(146000000), 1024000, 1, 14 }, "rate 1024000;centre 145999854;", 438000000 },
	{ "thirds of a hertz go to the nearest", { { INT64_C(363925000) }, 1024000, 0, 14 },
	  "centre 121308333;", 363924999 },
};

static void retunes_what_changed(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	fake->tuner = E4000;
	void *self = open_named("", &why);
	assert_int_equal(tune_and_read(self, &to, 1000, &b, &why), SOURCE_BLOCK);
	for (size_t i = 0; i < sizeof retunes / sizeof retunes[0]; i++) {
		fake_forget();
		if (tune_and_read(self, &retunes[i].to, 1000, &b, &why) != SOURCE_BLOCK)
			fail_msg("%s: %s", retunes[i].why, why.text);
		if (strcmp(fake->log, retunes[i].did) != 0)
			fail_msg("%s: did %s", retunes[i].why, fake->log);
		assert_int_equal(b.rate_hz, retunes[i].to.rate_hz);
		if (llabs(b.centre.thirds - retunes[i].thirds) > 1)
			fail_msg("%s: stands at %lld thirds", retunes[i].why, (long long)b.centre.thirds);
	}
	assert_int_equal(source_dongle_counts(self).retunes, 6);
	source_dongle.close(self);
}

static const struct {
	const char   *why;
	struct tuning to;
	const char   *fault;
} impossible[] = {
	{ "below, where it would land on 1650 MHz", TUNING(24000000),
	  "centre is 24.000 MHz, must be 26 to 1766 for its R820T tuner; direct sampling" },
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
	fake_forget();
	for (size_t i = 0; i < sizeof impossible / sizeof impossible[0]; i++) {
		if (source_dongle.tune(self, &impossible[i].to, &why) == 0)
			fail_msg("%s: was taken", impossible[i].why);
		check_fault(impossible[i].why, &why, FAULT_INPUT, impossible[i].fault);
		assert_string_equal(fake->log, "");
	}
	source_dongle.close(self);
}

static void a_refused_write_is_repeated_once(void **state)
{
	struct tuning to = TUNING(145000000), next = TUNING(146000000);
	char did[200];
	struct fault why;
	struct block b;
	(void)state;

	void *self = open_named("", &why);
	strcpy(fake->refuse, "centre");
	fake->refuse_code = -9;
	fake->refuse_times = 1;
	assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_BLOCK);
	fake->refuse_times = 2;
	assert_int_equal(tune_and_read(self, &next, 100, &b, &why), SOURCE_FAULT);
	check_fault("twice", &why, FAULT_RETRY, "dongle 00000001: tuning failed: it refused");
	assert_int_equal(read_block(self, 100, &b, &why), SOURCE_FAULT);
	check_fault("half tuned", &why, FAULT_RETRY, "is not tuned");
	fake_forget();
	assert_int_equal(tune_and_read(self, &next, 100, &b, &why), SOURCE_BLOCK);
	assert_string_equal(fake->log, set_up(did, sizeof did, "", 146000000));
	source_dongle.close(self);
	assert_false(fake->misused);
}

/* The library calls it a success, and says so on stderr alone. */
static void a_failed_lock_spoils_one_hop(void **state)
{
	struct tuning here = TUNING(145000000), there = TUNING(1700000000);
	struct fault why;
	struct block b;
	(void)state;

	fake->unlocked_mhz = 1700;
	void *self = open_named("", &why);
	for (int i = 0; i < 2; i++) {
		assert_int_equal(tune_and_read(self, &there, 100, &b, &why), SOURCE_DEAF);
		check_fault("no lock", &why, FAULT_RETRY, "dongle 00000001: did not lock at 1700.0 MHz");
		assert_int_equal(read_block(self, 100, &b, &why), SOURCE_FAULT);
		assert_int_equal(tune_and_read(self, &here, 100, &b, &why), SOURCE_BLOCK);
	}
	assert_null(strstr(fake->log, "close"));
	fake->unlocked_mhz = 0;
	assert_int_equal(tune_and_read(self, &there, 100, &b, &why), SOURCE_BLOCK);
	source_dongle.close(self);
}

static const struct {
	const char *why;
	int32_t     rate_hz;
	enum fault_kind kind;
	const char *fault;
} thin[] = {
	{ "too fast for it", 3200000, FAULT_INPUT, "at 3200000 S/s it loses samples, " },
	{ "which is a person's choice", 2560000, FAULT_INPUT, "use 2.4 MS/s" },
	{ "a bad cable may be mended", 2400000, FAULT_RETRY, "try another port or cable" },
};

static void a_rate_that_loses_samples_is_refused(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof thin / sizeof thin[0]; i++) {
		struct tuning to = { FREQ_HZ(145000000), thin[i].rate_hz, 0, 297 };
		struct fault why;
		struct block b;
		fake_reset();
		fake->stride = 5;
		void *self = open_named("", &why);
		assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_FAULT);
		check_fault(thin[i].why, &why, thin[i].kind, thin[i].fault);
		source_dongle.close(self);
	}
}

static void an_antenna_is_fed_when_asked(void **state)
{
	struct source_request q = { .arg = "", .bias_tee = true };
	struct fault why;
	(void)state;

	void *self = source_dongle.open(&q, &why);
	assert_string_equal(fake->log, "open 0;bias 1;");
	source_dongle.close(self);
	assert_string_equal(fake->log, "open 0;bias 1;bias 0;close 0;");
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

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sources_by_name),
		cmocka_unit_test_setup(finds_it_or_says_why, reset),
		cmocka_unit_test_setup(sets_up_in_order_and_tidies, reset),
		cmocka_unit_test_setup(retunes_what_changed, reset),
		cmocka_unit_test_setup(refuses_before_calling, reset),
		cmocka_unit_test_setup(a_refused_write_is_repeated_once, reset),
		cmocka_unit_test_setup(a_failed_lock_spoils_one_hop, reset),
		cmocka_unit_test_setup(a_rate_that_loses_samples_is_refused, reset),
		cmocka_unit_test_setup(an_antenna_is_fed_when_asked, reset),
	};

	return fake_run(argc, argv, tests, sizeof tests / sizeof tests[0]);
}
