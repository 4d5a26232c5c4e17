#include "tests/test.h"

#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/dongle/stream.h"
#include "tests/dongle_steps.h"
#include "tests/fake_rtlsdr.h"

#define R820T 5
#define E4000 1                         /* a tuner that lands where it is asked to */

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
	{ "none is there to open", 0, { 0 }, 0, 0, 5, NULL, 1000,
	  FAULT_RETRY, "dongle A1: none found", "" },
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
	  "open 1;bias 0;rate 2400000;manual 1;gain 297;gain 297;" },
	{ "set up afresh, but stays silent", 2, { "B2", "A1" }, 0, 0, 5, NULL, 0,
	  FAULT_RETRY, "no samples within 2 s", "open 1;bias 0;rate 2400000;manual 1;gain 297;agc 0;"
	  "centre 145000000;test 1;flush 0;" },
	{ "all is well", 2, { "B2", "A1" }, 0, 0, 5, NULL, 1000, FAULT_NONE, "",
	  "open 1;bias 0;rate 2400000;manual 1;gain 297;agc 0;centre 145000000;test 1;flush 0;test 0;" },
};

static void set_the_world(size_t i)
{
	fake->count = tries[i].count;
	for (int k = 0; k < 3 && tries[i].serial[k]; k++)
		strcpy(fake->serial[k], tries[i].serial[k]);
	fake->strings_result = tries[i].strings;
	fake->open_result = tries[i].open;
	fake->tuner = tries[i].tuner == R820T ? E4000 : tries[i].tuner;
	strcpy(fake->refuse, tries[i].refuse ? tries[i].refuse : "");
	fake->refuse_code = -9;
	fake->refuse_times = 2;
	fake->deliveries = tries[i].deliveries;
	fake->vanish = fake->unplug = false;
	fake_forget();
}

static int read_until_fault(void *self, struct fault *why)
{
	struct block b;
	int r = SOURCE_BLOCK;

	for (int k = 0; r == SOURCE_BLOCK && k < 1000; k++)
		r = read_block(self, 8192, &b, why);
	return r;
}

static void comes_back_from_being_unplugged(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	strcpy(fake->serial[0], "A1");
	fake->tuner = E4000;
	fake->deliveries = 200;
	fake->vanish = fake->unplug = true;
	void *self = open_named("", &why);      /* not named: its serial is kept all the same */
	assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_BLOCK);
	assert_int_equal(read_until_fault(self, &why), SOURCE_FAULT);
	check_fault("pulled out", &why, FAULT_RETRY, "dongle A1: it vanished");
	for (size_t i = 0; i < sizeof tries / sizeof tries[0]; i++) {
		set_the_world(i);
		int r = tune_and_read(self, &to, 8192, &b, &why);
		if ((r == SOURCE_BLOCK) != (tries[i].kind == FAULT_NONE))
			fail_msg("%s: gave %d, %s", tries[i].why, r, why.text);
		if (r < 0)
			check_fault(tries[i].why, &why, tries[i].kind, tries[i].fault);
		if (strcmp(fake->log, tries[i].did) != 0)
			fail_msg("%s: did %s", tries[i].why, fake->log);
		if (r < 0 && read_block(self, 100, &b, &why) != SOURCE_FAULT)
			fail_msg("%s: samples without a dongle", tries[i].why);
		source_dongle.rest(self, 1000);
	}
	assert_int_equal(b.centre.thirds, FREQ_HZ(145000000).thirds);
	source_dongle.close(self);
	if (fake->misused)
		fail_msg("a closed handle was used, or an absent one opened: %s", fake->log);
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
		struct block b;
		fake_reset();
		strcpy(fake->serial[0], returns[i].before);
		fake->deliveries = 200;
		fake->vanish = fake->unplug = true;
		void *self = open_named(returns[i].arg, &why);
		assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_BLOCK);
		assert_int_equal(read_until_fault(self, &why), SOURCE_FAULT);
		assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_FAULT);
		fake->count = returns[i].count;
		for (int k = 0; k < 3 && returns[i].serial[k]; k++)
			strcpy(fake->serial[k], returns[i].serial[k]);
		fake->unplug = false;
		fake_forget();
		int r = tune_and_read(self, &to, 100, &b, &why);
		if ((r == SOURCE_BLOCK) != (returns[i].did != NULL))
			fail_msg("%s: gave %d, %s", returns[i].why, r, why.text);
		if (r < 0)
			check_fault(returns[i].why, &why, FAULT_RETRY, returns[i].fault);
		else if (strncmp(fake->log, returns[i].did, strlen(returns[i].did)) != 0)
			fail_msg("%s: did %s", returns[i].why, fake->log);
		source_dongle.close(self);
		assert_false(fake->misused);
	}
}

/* What is wrong from the 200th delivery on, or with a call; then it is mended. */
static const struct {
	const char *why, *hang_in, *crash_in;
	bool        hang, fresh;        /* the reader hangs; it is wrong before the first tuning */
	const char *fault;
	int         at_most_s;
} ills[] = {
	{ "silence: still listed, its handle open", "", "", false, false, "no samples for 1 s", 2 },
	{ "silence, and the reader never ends", "", "", true, false, "no samples for 1 s", 2 },
	{ "a call that never returns", "centre", "", false, false, "tuning it was not done within 3 s", 4 },
	{ "the same in the first set-up", "rate", "", false, true, "tuning it was not done within 8 s", 9 },
	{ "it kills its process", "", "centre", false, false, "the process that reads it ended by signal 9", 1 },
};

static void comes_back_from_all_ills(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof ills / sizeof ills[0]; i++) {
		struct tuning to = TUNING(145000000), next = TUNING(147000000);
		struct fault why;
		struct block b;
		fake_reset();
		fake->deliveries = 200;
		fake->hang = ills[i].hang;
		void *self = open_named("", &why);
		if (!ills[i].fresh)
			assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_BLOCK);
		strcpy(fake->hang_in, ills[i].hang_in);
		strcpy(fake->crash_in, ills[i].crash_in);
		int r = tune_and_read(self, &next, 100, &b, &why);
		int64_t well_us = stream_now_us();
		if (r == SOURCE_BLOCK)
			r = read_until_fault(self, &why);
		check_fault(ills[i].why, &why, FAULT_RETRY, ills[i].fault);
		if (r != SOURCE_FAULT || stream_now_us() - well_us > (ills[i].at_most_s + 20) * INT64_C(1000000))
			fail_msg("%s: gave %d after %lld us", ills[i].why, r,
				 (long long)(stream_now_us() - well_us));
		strcpy(fake->hang_in, "");
		strcpy(fake->crash_in, "");
		fake->deliveries = 100000;
		fake->hang = false;
		if (tune_and_read(self, &to, 8192, &b, &why) != SOURCE_BLOCK)
			fail_msg("%s: does not come back: %s", ills[i].why, why.text);
		assert_int_equal(source_dongle_counts(self).failures, 1);
		source_dongle.close(self);
		if (fake->misused)
			fail_msg("%s: opened while another had it: %s", ills[i].why, fake->log);
	}
}

/* Neither may the daemon wait for a process that hangs when it stops. */
static void a_hung_one_does_not_keep_us(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	fake->hang = true;
	void *self = open_named("", &why);
	assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_BLOCK);
	fake_forget();
	source_dongle.close(self);
	assert_string_equal(fake->log, "");     /* closing under it would never return */
	assert_true(kill(fake->owner, 0) < 0);
}

/* One whose daemon is killed tidies up and goes. */
static void an_orphan_goes(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	pid_t daemon = fork();
	if (daemon == 0) {
		void *self = open_named("", &why);
		tune_and_read(self, &to, 100, &b, &why);
		raise(SIGKILL);
	}
	assert_int_equal(waitpid(daemon, NULL, 0), daemon);
	assert_true(fake->owner > 0);
	for (int i = 0; i < 1000 && kill(fake->owner, 0) == 0; i++)
		usleep(10000);
	assert_true(kill(fake->owner, 0) < 0);
	assert_non_null(strstr(fake->log, "test 0;bias 0;close 0;"));
}

/* A terminal's signals go to it as well, and are the daemon's to heed. */
static void signals_are_not_for_it(void **state)
{
	static const int all[] = { SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGPIPE };
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	void *self = open_named("", &why);
	assert_int_equal(tune_and_read(self, &to, 100, &b, &why), SOURCE_BLOCK);
	for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
		assert_int_equal(kill(fake->owner, all[i]), 0);
	for (int k = 0; k < 20; k++)
		assert_int_equal(tune_and_read(self, &to, 24000, &b, &why), SOURCE_BLOCK);
	assert_int_equal(source_dongle_counts(self).failures, 0);
	source_dongle.close(self);
	assert_non_null(strstr(fake->log, "bias 0;close 0;"));
}

/* Whoever forgets to close the survey on exec does not hand it to a process that
 * may be stuck for ever. */
static void inherits_nothing(void **state)
{
	struct fault why;
	char path[64], there[64], ours[64];
	int ends[2];
	(void)state;

	assert_int_equal(pipe(ends), 0);
	snprintf(path, sizeof path, "/proc/self/fd/%d", ends[0]);
	ssize_t n = readlink(path, ours, sizeof ours);
	void *self = open_named("", &why);
	assert_non_null(self);
	for (int fd = 3; fd < 64; fd++) {
		snprintf(path, sizeof path, "/proc/%d/fd/%d", fake->owner, fd);
		if (readlink(path, there, sizeof there) == n && memcmp(there, ours, (size_t)n) == 0)
			fail_msg("it has descriptor %d of ours", fd);
	}
	source_dongle.close(self);
	close(ends[0]);
	close(ends[1]);
}

static void one_that_is_not_there_does_not_meddle(void **state)
{
	struct tuning to = TUNING(145000000);
	struct fault why;
	struct block b;
	(void)state;

	void *one = open_named("", &why);
	assert_int_equal(tune_and_read(one, &to, 100, &b, &why), SOURCE_BLOCK);
	fake->count = 0;
	assert_null(open_named("", &why));
	check_fault("none left", &why, FAULT_RETRY, "none found");
	assert_int_equal(tune_and_read(one, &to, 100, &b, &why), SOURCE_BLOCK);
	source_dongle.close(one);
}

int main(int argc, char **argv)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup(comes_back_from_being_unplugged, reset),
		cmocka_unit_test_setup(is_found_by_serial_alone, reset),
		cmocka_unit_test_setup(comes_back_from_all_ills, reset),
		cmocka_unit_test_setup(a_hung_one_does_not_keep_us, reset),
		cmocka_unit_test_setup(an_orphan_goes, reset),
		cmocka_unit_test_setup(signals_are_not_for_it, reset),
		cmocka_unit_test_setup(inherits_nothing, reset),
		cmocka_unit_test_setup(one_that_is_not_there_does_not_meddle, reset),
	};

	return fake_run(argc, argv, tests, sizeof tests / sizeof tests[0]);
}
