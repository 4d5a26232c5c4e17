#include "tests/test.h"

#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/failing_vfs.h"
#include "tests/noise.h"
#include "tests/thin_world.h"

/* Ten days of a survey, thinned: what is kept adds up to what it did, and it is all the same
 * whether it was done at once, in many goes, or killed again and again. */

static void what_is_kept(void **state)
{
	const struct place *p = *state;
	static uint8_t then[DAYS * 24 * N], now[DAYS * 24 * N];
	struct fault why = { 0 };
	int64_t kept;

	thin_write_days(p->path);
	struct thin_sums before = thin_sums_of(p->path);
	struct survey *s = must_read(p->path);
	thin_must(picture_read(s, BAND, START, NOW, HOUR_US, then, NULL, &why), &why);
	survey_close(s);
	thin_steps(p->path, &thin_all, 10000);
	assert_true(thin_sums_of(p->path).print == before.print);

	assert_in_range(thin_steps(p->path, &thin_keep, 10000), 10, 1000);
	struct thin_sums after = thin_sums_of(p->path);
	thin_adds_up(&before, &after);
	assert_int_equal(after.old_hours, 0);
	assert_in_range(after.days, 6 * 3, before.hours);
	assert_in_range(after.hours, 1, before.hours - 1);
	assert_true(after.oldest_over_us >= NOW - thin_keep.overs_us);
	assert_in_range(after.overs, 1, before.overs - 1);
	s = must_read(p->path);
	thin_must(picture_read(s, BAND, START, NOW, HOUR_US, now, &kept, &why), &why);
	assert_true(kept == STRIP_HOUR_US);
	memset(then, STRIP_NOT_LOOKED, 3 * 24 * N);     /* older than a week */
	assert_memory_equal(now, then, sizeof then);
	thin_must(picture_read(s, BAND, NOW - thin_keep.minutes_us, NOW, STRIP_HOUR_US, now, &kept, &why), &why);
	assert_true(kept == STRIP_MINUTE_US);
	survey_close(s);
	assert_int_equal(thin_steps(p->path, &thin_keep, 10000), 0);       /* nothing is left to do */
	assert_true(thin_sums_of(p->path).print == after.print);
}

static void in_as_many_goes_as_you_like(void **state)
{
	const struct place *p = *state;

	thin_write_days(p->path);
	thin_steps(p->path, &thin_keep, 10000);
	uint64_t want = thin_sums_of(p->path).print;
	empty_place(p);
	thin_write_days(p->path);
	for (int i = 0; i < 200 && thin_steps(p->path, &thin_keep, 3) > 0; i++)
		;
	assert_true(thin_sums_of(p->path).print == want);
}

static void killed_amid_it(void **state)
{
	const struct place *p = *state;
	struct noise r = { SEED };
	struct fault why = { 0 };
	int killed = 0;

	thin_write_days(p->path);
	struct thin_sums before = thin_sums_of(p->path);
	thin_steps(p->path, &thin_keep, 10000);
	uint64_t want = thin_sums_of(p->path).print;
	empty_place(p);
	thin_write_days(p->path);
	for (int round = 0; round < 12; round++) {
		pid_t pid = fork();
		if (pid == 0) {
			struct run_row run = world_run();
			struct survey *s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
			struct thinning t = { 0 };
			while (s && thin_step(s, &thin_keep, NOW, &t, &why) > 0)
				;
			_exit(0);
		}
		int status;
		usleep((useconds_t)noise_between(&r, 0, 30000));
		kill(pid, SIGKILL);
		assert_int_equal(waitpid(pid, &status, 0), pid);
		killed += WIFSIGNALED(status);
		struct thin_sums now = thin_sums_of(p->path);
		thin_adds_up(&before, &now);
	}
	thin_steps(p->path, &thin_keep, 10000);
	if (thin_sums_of(p->path).print != want)
		fail_msg("after %d kills it is another (seed %" PRIu64 ")", killed, SEED);
}

/* A disk that fails at any call: the step says so, and made again it does what it should. */
static void on_a_failing_disk(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .code = 13 };      /* SQLITE_FULL */
	struct fault why = { 0 };
	struct run_row run = world_run();
	int refused = 0;

	thin_write_days(p->path);
	thin_steps(p->path, &thin_keep, 10000);
	uint64_t want = thin_sums_of(p->path).print;
	empty_place(p);
	thin_write_days(p->path);
	assert_int_equal(failing_disk_install(&disk), 0);
	struct survey *s = must_write(p->path, &run);
	struct thinning t = { 0 };
	for (int n = 1, more = 1; more != 0 && n < 10000; n++) {
		disk.calls = 0;
		disk.fail_at = n % 2 ? n % 37 + 1 : 0;
		more = thin_step(s, &thin_keep, NOW, &t, &why);
		refused += more < 0;
		if (more < 0 && why.kind != FAULT_RETRY)
			fail_msg("said (%d) %s", why.kind, why.text);
	}
	disk.fail_at = 0;
	survey_close(s);
	failing_disk_remove(&disk);
	assert_in_range(refused, 5, 10000);
	assert_true(thin_sums_of(p->path).print == want);
}

static void nothing_is_kept_by_the_clock(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	int64_t newest = -1;

	struct survey *s = must_write(p->path, &run);
	thin_must(thin_newest(s, &newest, &why), &why);
	assert_true(newest == 0);
	struct thinning t = { 0 };
	assert_int_equal(thin_step(s, &thin_keep, 0, &t, &why), 0);
	struct world_rows rows = world_rows(run.id, 0);
	assert_int_equal(world_write(s, &rows, &why), 0);
	thin_must(thin_newest(s, &newest, &why), &why);
	assert_true(newest == rows.coverage.hour);
	survey_close(s);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(what_is_kept),
		TEST(in_as_many_goes_as_you_like),
		TEST(killed_amid_it),
		TEST(on_a_failing_disk),
		TEST(nothing_is_kept_by_the_clock),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
