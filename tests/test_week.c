/* Hours of the week, by hand. */
#include "tests/test.h"

#include <math.h>

#include "tools/plan/week.h"

#define HOUR INT64_C(3600000000)

/* 1970-01-01 was a Thursday, 2026-01-01 too (any calendar); before 1970 the week goes on backwards. */
static void hours_count_from_monday(void **state)
{
	static const struct { int64_t us; int hour; } at[] = {
		{ 0, 3 * 24 }, { HOUR - 1, 3 * 24 }, { HOUR, 3 * 24 + 1 }, { -1, 3 * 24 - 1 }, { -HOUR, 3 * 24 - 1 },
		{ -HOUR - 1, 3 * 24 - 2 }, { 4 * 24 * HOUR, 0 }, { -3 * 24 * HOUR, 0 }, { -3 * 24 * HOUR - 1, 167 },
		{ INT64_C(1767225600000000), 3 * 24 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof at / sizeof at[0]; i++)
		assert_int_equal(week_hour(at[i].us), at[i].hour);
}

/* Monday quiet at 3 and heard at 4, Tuesday heard at 3, Sunday quiet at 23. */
static void states_by_day_and_of_any(void **state)
{
	struct week w = { 0 };

	(void)state;
	w.cell[3].looked_us = 1;
	w.cell[4] = (struct week_cell){ .looked_us = 1, .overs = 1 };
	w.cell[24 + 3] = (struct week_cell){ .looked_us = 1, .overs = 2 };
	w.cell[167].looked_us = 1;
	assert_int_equal(week_hours_in(&w, 0, WEEK_QUIET), 1u << 3);
	assert_int_equal(week_hours_in(&w, 0, WEEK_HEARD), 1u << 4);
	assert_int_equal(week_hours_in(&w, 0, WEEK_NOT_LOOKED), 0xffffff & ~(1u << 3 | 1u << 4));
	assert_int_equal(week_hours_in(&w, 1, WEEK_HEARD), 1u << 3);
	assert_int_equal(week_hours_in(&w, 6, WEEK_QUIET), 1u << 23);
	assert_int_equal(week_hours_in(&w, -1, WEEK_HEARD), 1u << 3 | 1u << 4);
	assert_int_equal(week_hours_in(&w, -1, WEEK_QUIET), 1u << 3 | 1u << 4 | 1u << 23);
}

/* Of the looks of all days together, whichever comes first. */
static void the_busy_hour(void **state)
{
	static const int first[] = { 0, 5, 23 };
	double occupancy;

	(void)state;
	for (int i = 0; i < 3; i++) {
		struct week w = { 0 };
		for (int h = 0; h < DAY_HOURS; h++)
			w.cell[h] = (struct week_cell){ .looked_us = 100, .busy_us = 10 };
		w.cell[first[i]] = (struct week_cell){ .looked_us = 100, .busy_us = 20 };
		w.cell[2 * DAY_HOURS + first[i]] = (struct week_cell){ .looked_us = 300, .busy_us = 60 };
		assert_int_equal(week_busy_hour(&w, &occupancy), first[i]);
		assert_true(fabs(occupancy - 0.2) < 1e-12);
	}
	struct week none = { 0 };
	assert_int_equal(week_busy_hour(&none, &occupancy), -1);
	assert_true(occupancy == 0);
	none.cell[9].looked_us = 1;             /* looked at, and nothing heard */
	assert_int_equal(week_busy_hour(&none, &occupancy), 9);
}

/* Monday to Friday from eight to six. */
static void hours_of_work(void **state)
{
	static const struct { int day, hour; bool counts; } at[] = {
		{ 0, 8, true }, { 0, 7, false }, { 4, 17, true }, { 4, 18, false }, { 5, 10, false }, { 6, 10, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof at / sizeof at[0]; i++) {
		struct week w = { 0 };
		assert_int_equal(week_work_hours(&w), 0);
		w.cell[at[i].day * DAY_HOURS + at[i].hour].looked_us = 1;
		assert_int_equal(week_work_hours(&w), at[i].counts);
	}
	struct week all;
	for (int h = 0; h < WEEK_HOURS; h++)
		all.cell[h] = (struct week_cell){ .looked_us = 1 };
	assert_int_equal(week_work_hours(&all), WEEK_WORK);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(hours_count_from_monday),
		cmocka_unit_test(states_by_day_and_of_any),
		cmocka_unit_test(the_busy_hour),
		cmocka_unit_test(hours_of_work),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
