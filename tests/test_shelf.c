#include "tests/test.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/shelf.h"
#include "store/picture.h"
#include "tests/fault_check.h"
#include "tests/survey_place.h"

/* Surveys of past weeks in a folder: which of them are thinned, and by whose clock. */

#define WEEKS   12
#define BAND    1
#define N       40
#define WEEK_US (7 * STRIP_DAY_US)
#define START   (20003 * STRIP_DAY_US)          /* a Monday: 20000 is 2024-10-04, a Friday */
#define NOW     (START + WEEKS * WEEK_US)

static const struct keep keep = { .overs_us = 5 * WEEK_US, .hours_us = 5 * WEEK_US };
static const volatile sig_atomic_t go_on = 0, stopped = 1;

static char *named(const struct place *p, const char *name, char out[200])
{
	snprintf(out, 200, "%s/%s.survey", p->folder, name);
	return out;
}

static char *week(const struct place *p, int i, char out[200])
{
	char name[20];

	snprintf(name, sizeof name, "2024-W%02d", 41 + i);
	return named(p, name, out);
}

/* Three hours of a Tuesday with an over in each. */
static void write_week(const char *path, int64_t monday)
{
	struct run_row run = world_run();
	struct survey *s = must_write(path, &run);
	struct fault why = { 0 };

	for (int i = 1; i <= 3; i++) {
		struct coverage_row c = { .run = run.id, .hour = monday + STRIP_DAY_US + i * HOUR_US, .band = BAND,
			.count = N, .looks = 10, .pairs = 9, .looked_us = 200000, .floor_ddb_sum = -6100,
			.floor_low_ddb = -620, .floor_high_ddb = -600 };
		struct transmission_row t = world_rows(run.id, 0).transmission;
		t.first_us = c.hour;
		t.last_us = t.first_us + 800000;
		assert_int_equal(survey_begin(s, &why), 0);
		assert_int_equal(survey_add_coverage(s, &c, &why), 0);
		assert_int_equal(survey_add_transmission(s, &t, &why), 0);
		assert_int_equal(survey_commit(s, &why), 0);
	}
	survey_close(s);
}

static void write_weeks(const struct place *p)
{
	char path[200];

	for (int i = 0; i < WEEKS; i++)
		write_week(week(p, i, path), START + i * WEEK_US);
}

static int count(const char *path, const char *table)
{
	char sql[100], out[64];

	snprintf(sql, sizeof sql, "SELECT count(*) FROM %s", table);
	ask(path, sql, out);
	return atoi(out);
}

static struct shelf_sum thin(const struct place *p, const char *current_week, int64_t now_us,
			     const volatile sig_atomic_t *stop)
{
	struct shelf_sum sum;

	shelf_thin(p->folder, current_week, &keep, now_us, stop, &sum);
	return sum;
}

/* Overs lie on Tuesdays; the newest hour is that of the last week. So weeks 0 to 5 end five weeks or
 * more before it, that is by the day: the sixth ends on the very day that is kept. */
static void old_weeks_are_thinned(void **state)
{
	const struct place *p = *state;
	char path[200], other[200];

	write_weeks(p);
	write_week(named(p, "holiday", other), START);
	struct shelf_sum sum = thin(p, "2024-W52", NOW, &go_on);
	assert_int_equal(sum.failed, 0);
	assert_int_equal(sum.files, 6);
	for (int i = 0; i < WEEKS; i++) {
		week(p, i, path);
		assert_int_equal(count(path, "transmission"), i < 6 ? 0 : 3);
		assert_int_equal(count(path, "coverage"), i < 6 ? 1 : 3);
		assert_int_equal(count(path, "incident"), i < 6 ? 1 : 0);
	}
	/* What somebody else called a survey is theirs. */
	assert_int_equal(count(other, "transmission"), 3);
	sum = thin(p, "2024-W52", NOW, &go_on);
	assert_int_equal(sum.files, 0);
	assert_int_equal(sum.rows, 0);
}

/* The current one is its watch's, however old what is in it. */
static void the_current_one_is_left_alone(void **state)
{
	const struct place *p = *state;
	char path[200];

	write_weeks(p);
	write_week(named(p, "2024-W43-2", path), START + 2 * WEEK_US);
	assert_int_equal(thin(p, "2024-W43", NOW, &go_on).files, 5);
	assert_int_equal(count(path, "transmission"), 3);
	assert_int_equal(count(week(p, 2, path), "transmission"), 3);
	assert_int_equal(thin(p, NULL, NOW, &go_on).files, 2);
}

/* One that is years ahead, as long as nothing was surveyed by it; one that is back in 1970, or was ahead
 * once. */
static void clocks_that_are_wrong_age_nothing(void **state)
{
	const struct place *p = *state;
	char path[200];

	write_weeks(p);
	named(p, "2031-W20", path);
	assert_int_equal(thin(p, "2031-W20", NOW + 400 * WEEK_US, &go_on).files, 6);
	empty_place(p);
	write_weeks(p);
	assert_int_equal(thin(p, "2031-W20", 1000000, &go_on).files, 0);
	write_week(path, NOW + 400 * WEEK_US);
	assert_int_equal(thin(p, NULL, NOW - WEEK_US + STRIP_DAY_US + 3 * HOUR_US, &go_on).files, 6);
}

static void work_is_bounded(void **state)
{
	const struct place *p = *state;
	char path[200];

	write_weeks(p);
	assert_int_equal(thin(p, NULL, NOW, &stopped).files, 0);
	for (int i = 0; i < 4; i++)
		write_week(named(p, (const char *[]){ "2023-W01", "2023-W02", "2023-W03", "2023-W04" }[i], path), START - (40 - i) * WEEK_US);
	assert_int_equal(thin(p, NULL, NOW, &go_on).files, 8);
	assert_int_equal(thin(p, NULL, NOW, &go_on).files, 2);
	assert_int_equal(thin(p, NULL, NOW, &go_on).files, 0);
}

/* One that is damaged, or held by another, costs no other. */
static void what_fails_is_passed_by(void **state)
{
	const struct place *p = *state;
	char path[200];
	struct run_row run = world_run();

	write_weeks(p);
	put_file(week(p, 0, path), "this is no survey", 17);
	struct survey *held = must_write(week(p, 1, path), &run);
	struct shelf_sum sum = thin(p, NULL, NOW, &go_on);
	assert_int_equal(sum.files, 4);
	assert_int_equal(sum.failed, 2);
	survey_close(held);
	assert_int_equal(count(path, "transmission"), 3);
	assert_int_equal(thin(p, NULL, NOW, &go_on).files, 1);
	shelf_thin("/nowhere", NULL, &keep, NOW, &go_on, &sum);
	assert_int_equal(sum.files + sum.failed, 0);
}

static void must_choose(const struct place *p, const struct band *bands, int n, const char *name)
{
	char path[SHELF_PATH], wanted[200];
	struct fault why = { 0 };

	assert_int_equal(shelf_choose(p->folder, "2024-W41", bands, n, path, &why), 0);
	assert_string_equal(path, named(p, name, wanted));
}

/* With what can't be gone on with nothing is done, and the week goes on in another file. */
static void a_week_goes_on_in_what_fits(void **state)
{
	const struct place *p = *state;
	char path[SHELF_PATH], name[20];
	struct fault why = { 0 };
	struct run_row run = world_run();

	must_choose(p, world_bands, WORLD_BANDS, "2024-W41");
	assert_int_equal(access(named(p, "2024-W41", path), F_OK), -1);
	survey_close(must_write(path, &run));
	must_choose(p, world_bands, WORLD_BANDS, "2024-W41");
	must_choose(p, world_bands, 1, "2024-W41-2");
	put_file(path, "this is no survey", 17);
	must_choose(p, world_bands, WORLD_BANDS, "2024-W41-2");
	survey_close(must_write(named(p, "2024-W41-2", path), &run));
	must_choose(p, world_bands, WORLD_BANDS, "2024-W41-2");
	must_choose(p, world_bands, 1, "2024-W41-3");
	assert_int_equal(count(path, "run"), 1);
	for (int k = 2; k <= 9; k++) {
		snprintf(name, sizeof name, "2024-W41-%d", k);
		put_file(named(p, name, path), "this is no survey", 17);
	}
	assert_int_equal(shelf_choose(p->folder, "2024-W41", world_bands, WORLD_BANDS, path, &why), -1);
	check_fault("nine that do not fit", &why, FAULT_RETRY, "none of nine surveys");
}

/* Too large for readers to check whole, and spoilt amid it: found before a watch is at it, not by one. */
static void a_large_one_is_looked_through(void **state)
{
	const struct place *p = *state;
	static const off_t amid = 20 << 20;
	char path[SHELF_PATH], none[64];
	struct run_row run = world_run();

	survey_close(must_write(named(p, "2024-W41", path), &run));
	ask(path, "INSERT INTO setting VALUES (1, 'x', hex(zeroblob(18000000)))", none);
	must_choose(p, world_bands, WORLD_BANDS, "2024-W41");
	int fd = open(path, O_RDWR | O_CLOEXEC);
	assert_in_range(lseek(fd, 0, SEEK_END), 33 << 20, 40 << 20);
	assert_int_equal(pwrite(fd, "\xff\xff\xff\xff", 4, amid), 4);
	close(fd);
	must_choose(p, world_bands, WORLD_BANDS, "2024-W41-2");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(a_week_goes_on_in_what_fits, make_place, remove_place),
		cmocka_unit_test_setup_teardown(a_large_one_is_looked_through, make_place, remove_place),
		cmocka_unit_test_setup_teardown(old_weeks_are_thinned, make_place, remove_place),
		cmocka_unit_test_setup_teardown(the_current_one_is_left_alone, make_place, remove_place),
		cmocka_unit_test_setup_teardown(clocks_that_are_wrong_age_nothing, make_place, remove_place),
		cmocka_unit_test_setup_teardown(work_is_bounded, make_place, remove_place),
		cmocka_unit_test_setup_teardown(what_fails_is_passed_by, make_place, remove_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
