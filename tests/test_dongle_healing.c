#include "tests/test.h"

#include <string.h>

#include "daemon/source.h"
#include "tests/dongle_steps.h"
#include "tests/fake_rtlsdr.h"

#define SET_UP "bias 0;ppm 0;rate 2400000;manual 1;gain 297;agc 0;centre 145000000;flush 0;"

/* What the world is like at each try, after it was pulled out while it was read. */
static const struct {
	const char     *why;
	int             count;
	const char     *serial[3];
	int             strings, open, tuner;
	const char     *refuse;
	int             deliveries;
	enum fault_kind kind;           /* FAULT_NONE: it is back */
	const char     *fault, *did;
} tries[] = {
	{ "its dead handle is closed, and none is there to open", 0, { 0 }, 0, 0, 5, NULL, 1000,
	  FAULT_RETRY, "dongle A1: none found", "bias 0;close 0;" },
	{ "still none: nothing is opened, an absent one would leak", 0, { 0 }, 0, 0, 5, NULL, 1000,
	  FAULT_RETRY, "dongle A1: none found", "" },
	{ "another one is not it", 1, { "B2" }, 0, 0, 5, NULL, 1000,
	  FAULT_RETRY, "dongle A1: none of the 1 plugged in has this serial", "" },
	{ "its node has no permission yet", 1, { "A1" }, -3, 0, 5, NULL, 1000,
	  FAULT_RETRY, "reading serials failed: no permission", "" },
	{ "a second one of its serial came: it may go again", 2, { "A1", "A1" }, 0, 0, 5, NULL, 1000,
	  FAULT_RETRY, "dongle A1: 2 have this serial", "" },
	{ "under another index, but in use", 3, { "B2", "C3", "A1" }, 0, -6, 5, NULL, 1000,
	  FAULT_RETRY, "dongle A1: opening failed: it is in use", "open 2;" },
	{ "its tuner does not answer", 2, { "B2", "A1" }, 0, 0, 0, NULL, 1000,
	  FAULT_RETRY, "its tuner does not answer", "open 1;bias 0;close 0;" },
	{ "it refuses a write, and once more", 2, { "B2", "A1" }, 0, 0, 5, "gain", 1000,
	  FAULT_RETRY, "setting the gain failed: it refused",
	  "open 1;bias 0;ppm 0;rate 2400000;manual 1;gain 297;gain 297;" },
	{ "after that it is closed and set up afresh, but stays silent", 2, { "B2", "A1" }, 0, 0, 5,
	  NULL, 0, FAULT_RETRY, "no samples within 2 s", "bias 0;close 0;open 1;" SET_UP },
	{ "all is well", 2, { "B2", "A1" }, 0, 0, 5, NULL, 1000, FAULT_NONE, "",
	  "bias 0;close 0;open 1;" SET_UP },
};

static void set_the_world(size_t i)
{
	pthread_mutex_lock(&fake.lock);
	fake.count = tries[i].count;
	memcpy(fake.serial, tries[i].serial, sizeof tries[i].serial);
	fake.strings_result = tries[i].strings;
	fake.open_result = tries[i].open;
	fake.tuner = tries[i].tuner;
	fake.refuse = tries[i].refuse;
	fake.refuse_code = -9;
	fake.refuse_times = 2;
	fake.deliveries = tries[i].deliveries;
	fake.vanish = fake.unplug = false;
	fake.log[0] = '\0';
	pthread_mutex_unlock(&fake.lock);
}

static int read_until_fault(void *self, struct fault *why)
{
	struct block b;
	int r = SOURCE_BLOCK;

	for (int k = 0; r == SOURCE_BLOCK && k < 1000; k++)
		r = source_dongle.read(self, 8192, &b, why);
	return r;
}

static void comes_back_from_being_unplugged(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	fake.serial[0] = "A1";
	fake.deliveries = 60;
	fake.vanish = fake.unplug = true;
	void *self = open_named("", &why);      /* not named: its serial is kept all the same */
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	assert_int_equal(read_until_fault(self, &why), SOURCE_FAULT);
	check_fault("pulled out", &why, FAULT_RETRY, "dongle A1: it vanished");
	for (size_t i = 0; i < sizeof tries / sizeof tries[0]; i++) {
		set_the_world(i);
		int r = source_dongle.tune(self, &to, &why);
		if ((r == 0) != (tries[i].kind == FAULT_NONE))
			fail_msg("%s: tune gave %d, %s", tries[i].why, r, why.text);
		if (r < 0)
			check_fault(tries[i].why, &why, tries[i].kind, tries[i].fault);
		if (strcmp(fake.log, tries[i].did) != 0)
			fail_msg("%s: did %s", tries[i].why, fake.log);
		if (r < 0 && source_dongle.read(self, 100, &b, &why) != SOURCE_FAULT)
			fail_msg("%s: samples without a dongle", tries[i].why);
		source_dongle.rest(self, 1000);
	}
	assert_int_equal(source_dongle.read(self, 8192, &b, &why), SOURCE_BLOCK);
	assert_int_equal(b.centre.thirds, FREQ_HZ(145000000).thirds);
	source_dongle.close(self);
	if (fake.misused)
		fail_msg("a closed handle was used, or an absent one opened: %s", fake.log);
}

static const struct {
	const char *why, *arg, *before;
	int         count;
	const char *serial[3];
	const char *fault, *did;        /* did NULL: stays away */
} returns[] = {
	{ "named by index, it is still known by its serial", "0", "A1", 2, { "B2", "A1" }, "", "open 1;" },
	{ "a serial that could be an index is none when it comes to healing", "1", "1", 2, { "A1", "A1" },
	  "dongle 1: none of the 2 plugged in has this serial", NULL },
};

static void is_found_by_serial_alone(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof returns / sizeof returns[0]; i++) {
		struct tuning to = TUNING(145000000);
		struct fault why;
		fake_reset();
		fake.serial[0] = returns[i].before;
		fake.deliveries = 60;
		fake.vanish = fake.unplug = true;
		void *self = open_named(returns[i].arg, &why);
		assert_int_equal(source_dongle.tune(self, &to, &why), 0);
		assert_int_equal(read_until_fault(self, &why), SOURCE_FAULT);
		assert_int_equal(source_dongle.tune(self, &to, &why), -1);
		fake.count = returns[i].count;
		memcpy(fake.serial, returns[i].serial, sizeof returns[i].serial);
		fake.unplug = false;
		fake.log[0] = '\0';
		int r = source_dongle.tune(self, &to, &why);
		if ((r == 0) != (returns[i].did != NULL))
			fail_msg("%s: tune gave %d, %s", returns[i].why, r, why.text);
		if (r < 0)
			check_fault(returns[i].why, &why, FAULT_RETRY, returns[i].fault);
		else if (strncmp(fake.log, returns[i].did, strlen(returns[i].did)) != 0)
			fail_msg("%s: did %s", returns[i].why, fake.log);
		source_dongle.close(self);
		assert_false(fake.misused);
	}
}

/* It is still listed and its handle still open: only closing and opening helps. */
static void comes_back_from_silence(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	fake.deliveries = 60;
	void *self = open_named("", &why);
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	assert_int_equal(read_until_fault(self, &why), SOURCE_FAULT);
	check_fault("silent", &why, FAULT_RETRY, "no samples for 1 s");
	fake.log[0] = '\0';
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	assert_string_equal(fake.log, "bias 0;close 0;open 0;" SET_UP);
	assert_int_equal(source_dongle.read(self, 8192, &b, &why), SOURCE_BLOCK);
	assert_false(b.gap);
	source_dongle.close(self);
	assert_false(fake.misused);
}

/* Closing under a hung reader would never return, so it is left alone. */
static void a_hung_reader_is_fatal(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	fake.hang = true;
	fake.deliveries = 60;
	void *self = open_named("", &why);
	assert_int_equal(source_dongle.tune(self, &to, &why), 0);
	assert_int_equal(read_until_fault(self, &why), SOURCE_FAULT);
	fake.log[0] = '\0';
	for (int i = 0; i < 2; i++) {
		assert_int_equal(source_dongle.tune(self, &to, &why), -1);
		check_fault("hung", &why, FAULT_FATAL,
			    "must be replugged and the program restarted");
	}
	assert_int_equal(source_dongle.read(self, 100, &b, &why), SOURCE_FAULT);
	check_fault("hung, read", &why, FAULT_FATAL, "dongle 00000001: its reader hangs");
	source_dongle.rest(self, 1000);
	source_dongle.close(self);
	assert_string_equal(fake.log, "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup(comes_back_from_being_unplugged, reset),
		cmocka_unit_test_setup(is_found_by_serial_alone, reset),
		cmocka_unit_test_setup(comes_back_from_silence, reset),
		cmocka_unit_test_setup(a_hung_reader_is_fatal, reset),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
