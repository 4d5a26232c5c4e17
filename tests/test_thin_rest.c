#include "tests/test.h"

#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/failing_vfs.h"
#include "tests/thin_world.h"

/* A survey that nobody writes to, thinned: the same rows as step by step, and a smaller file. */

/* What a survey at rest is to come to, step by step; leaves it there. */
static uint64_t wanted(const char *path)
{
	struct fault why = { 0 };
	struct run_row run = world_run();

	thin_write_days(path);
	struct survey *s = must_write(path, &run);
	int more;
	while ((more = picture_tidy(s, 0, INT64_MAX, &why)) > 0)
		;
	thin_must(more, &why);
	survey_close(s);
	thin_steps_at(path, &thin_keep, 10000, NOW - HOUR_US);
	return thin_sums_of(path).print;
}

static int64_t free_bytes(const char *path, int64_t *bytes)
{
	struct fault why = { 0 };
	struct survey *s = must_read(path);
	int64_t unused = -1;

	thin_must(survey_size(s, bytes, &unused, &why), &why);
	survey_close(s);
	return unused;
}

static int see_thinned(void *self, const struct incident_row *row)
{
	*(int *)self += strcmp(row->what, "thinned") == 0;
	return 0;
}

/* A survey at rest: the same rows as step by step, and the file shrinks to what they need. */
static void at_rest(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct thin_sum sum;
	int64_t bytes, told = 0;
	int thinned = 0;

	uint64_t want = wanted(p->path);
	told = free_bytes(p->path, &bytes);
	assert_in_range(told, bytes / 10, bytes);       /* steps alone leave it in the file */
	empty_place(p);
	thin_write_days(p->path);
	struct thin_sums before = thin_sums_of(p->path);
	thin_must(survey_thin(p->path, &thin_keep, 0, &sum, &why), &why);
	assert_true(thin_sums_of(p->path).print == want);
	assert_in_range(sum.rows, 100, 100000);
	assert_int_equal(free_bytes(p->path, &bytes), 0);
	assert_true(bytes == sum.after_bytes && !sum.tight);
	assert_in_range(sum.after_bytes, 1, 9 * sum.before_bytes / 10);
	struct survey *s = must_read(p->path);
	thin_must(survey_each_incident(s, see_thinned, &thinned, &why), &why);
	thin_must(survey_check(s, &why), &why);
	survey_close(s);
	assert_int_equal(thinned, 1);
	struct thin_sums after = thin_sums_of(p->path);
	thin_adds_up(&before, &after);
	thin_must(survey_thin(p->path, &thin_keep, 0, &sum, &why), &why);    /* nothing is left to do */
	assert_true(sum.rows == 0 && sum.after_bytes == bytes);
	s = must_write(p->path, &run);                          /* goes on as ever, and not while it does */
	assert_int_equal(survey_thin(p->path, &thin_keep, 0, &sum, &why), -1);
	assert_int_equal(why.kind, FAULT_RETRY);
	survey_close(s);
	assert_int_equal(survey_thin("/nowhere/x.survey", &thin_keep, 0, &sum, &why), -1);
	assert_int_equal(why.kind, FAULT_INPUT);
}

/* Fails or is cut off anywhere: what is there is whole, and thinned again comes to the same. */
static void at_rest_on_a_failing_disk(void **state)
{
	const struct place *p = *state;
	struct failing_disk disk = { .code = 13 };      /* SQLITE_FULL */
	struct fault why = { 0 };
	struct thin_sum sum;
	int refused = 0;

	uint64_t want = wanted(p->path);
	empty_place(p);
	thin_write_days(p->path);
	struct thin_sums before = thin_sums_of(p->path);
	assert_int_equal(failing_disk_install(&disk), 0);
	for (int n = 1; n < 400; n += 1 + n / 8) {
		disk.calls = 0;
		disk.fail_at = n;
		refused += survey_thin(p->path, &thin_keep, 0, &sum, &why) < 0;
	}
	disk.fail_at = 0;
	failing_disk_remove(&disk);
	struct thin_sums amid = thin_sums_of(p->path);
	thin_adds_up(&before, &amid);
	assert_in_range(refused, 5, 400);
	thin_must(survey_thin(p->path, &thin_keep, 0, &sum, &why), &why);
	assert_true(thin_sums_of(p->path).print == want);
	assert_int_equal(free_bytes(p->path, &sum.before_bytes), 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(at_rest),
		TEST(at_rest_on_a_failing_disk),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
