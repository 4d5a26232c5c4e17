#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "store/timetable.h"

#define SECOND INT64_C(1000000)

static int32_t ahead_s(int64_t us)
{
	time_t s = (time_t)(us / SECOND);
	struct tm tm;

	localtime_r(&s, &tm);
	return (int32_t)tm.tm_gmtoff;
}

static void set_zone(const char *zone)
{
	setenv("TZ", zone, 1);
	tzset();
}

static int64_t utc(const char *text)
{
	struct tm tm = { 0 };

	assert_non_null(strptime(text, "%Y-%m-%d %H:%M", &tm));
	return (int64_t)timegm(&tm) * SECOND;
}

static struct timetable table_of(const char *hours, const char *day)
{
	char names[2][64] = { "", "" };
	struct texts days = { names, 0 };

	for (; *day; days.n++) {
		size_t n = strcspn(day, " ");
		assert_true(n < sizeof names[0] && days.n < 2);
		memcpy(names[days.n], day, n);
		day += n + strspn(day + n, " ");
	}
	return timetable_of(hours, &days, ahead_s);
}

/* Rules of POSIX for the European Union: clocks go forward on the last Sunday of March at 1:00 UTC and
 * back on that of October; 2026: 29 March, 25 October (Directive 2000/84/EC, from memory). */
#define BERLIN "CET-1CEST,M3.5.0,M10.5.0/3"

static void shifts(void **state)
{
	static const struct {
		const char *why, *zone, *hours, *days, *now, *from, *until;
	} cases[] = {
		{ "in the evening", "UTC", "20:00-08:00", "", "2026-02-17 21:00", "2026-02-17 20:00", "2026-02-18 08:00" },
		{ "in the morning", "UTC", "20:00-08:00", "", "2026-02-17 07:59", "2026-02-16 20:00", "2026-02-17 08:00" },
		{ "at the end", "UTC", "20:00-08:00", "", "2026-02-17 08:00", "2026-02-17 20:00", "2026-02-18 08:00" },
		{ "within a day", "UTC", "09:00-17:30", "", "2026-02-17 18:00", "2026-02-18 09:00", "2026-02-18 17:30" },
		{ "to midnight", "UTC", "20:00-24:00", "", "2026-02-17 18:00", "2026-02-17 20:00", "2026-02-18 00:00" },
		{ "round the clock", "UTC", "20:00-20:00", "", "2026-02-17 18:00", "2026-02-16 20:00", "2026-02-17 20:00" },
		/* 2026-02-17 is a Tuesday */
		{ "on Fridays", "UTC", "20:00-08:00", "friday", "2026-02-17 21:00", "2026-02-20 20:00", "2026-02-21 08:00" },
		{ "on into the next day", "UTC", "20:00-08:00", "monday", "2026-02-17 07:00", "2026-02-16 20:00",
		  "2026-02-17 08:00" },
		{ "the next of two", "UTC", "20:00-08:00", "monday thursday", "2026-02-17 09:00", "2026-02-19 20:00",
		  "2026-02-20 08:00" },
		{ "only that day, a week on", "UTC", "20:00-21:00", "tuesday", "2026-02-17 21:00", "2026-02-24 20:00",
		  "2026-02-24 21:00" },
		{ "east of Greenwich", BERLIN, "20:00-08:00", "", "2026-02-17 19:30", "2026-02-17 19:00", "2026-02-18 07:00" },
		{ "clocks go forward", BERLIN, "20:00-08:00", "", "2026-03-28 20:00", "2026-03-28 19:00", "2026-03-29 06:00" },
		{ "clocks go back", BERLIN, "20:00-08:00", "", "2026-10-24 20:00", "2026-10-24 18:00", "2026-10-25 07:00" },
		{ "from a time that comes twice", BERLIN, "02:30-08:00", "", "2026-10-24 22:00", "2026-10-25 00:30",
		  "2026-10-25 07:00" },
		{ "to a time that comes twice", BERLIN, "20:00-02:30", "", "2026-10-24 22:00", "2026-10-24 18:00",
		  "2026-10-25 01:30" },
		{ "from a time that never comes", BERLIN, "02:30-08:00", "", "2026-03-28 22:00", "2026-03-29 00:30",
		  "2026-03-29 06:00" },
		{ "to a time that never comes", BERLIN, "20:00-02:30", "", "2026-03-28 22:00", "2026-03-28 19:00",
		  "2026-03-29 01:30" },
		{ "always: week by week", "UTC", "", "", "2026-02-17 21:00", "2026-02-16 00:00", "2026-02-23 00:00" },
		{ "the week that loses an hour", BERLIN, "", "", "2026-03-28 21:00", "2026-03-22 23:00", "2026-03-29 22:00" },
		{ "before the epoch", "UTC", "20:00-08:00", "", "1969-12-31 12:00", "1969-12-31 20:00", "1970-01-01 08:00" },
	};
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		set_zone(cases[i].zone);
		struct timetable t = table_of(cases[i].hours, cases[i].days);
		struct shift s = timetable_shift(&t, utc(cases[i].now));
		if (s.from_us != utc(cases[i].from) || s.until_us != utc(cases[i].until))
			fail_msg("%s: from %+.2f h, until %+.2f h off", cases[i].why,
				 (double)(s.from_us - utc(cases[i].from)) / 3.6e9,
				 (double)(s.until_us - utc(cases[i].until)) / 3.6e9);
	}
}

/* Every quarter of an hour of two years, in zones that change clocks at all sorts of times: shifts come
 * one after the other and what the C library's own local time shows at their ends is what was written,
 * unless clocks are just being put forward. */
static void ends_are_local_times(void **state)
{
	static const char *const zones[] = { "UTC", BERLIN, "NST3:30NDT,M3.2.0,M11.1.0",
					     "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0", "AEST-10AEDT,M10.1.0,M4.1.0/3" };
	(void)state;

	for (size_t z = 0; z < sizeof zones / sizeof zones[0]; z++) {
		set_zone(zones[z]);
		struct timetable t = table_of("20:00-08:00", "");
		int64_t last = 0;
		int n = 0;
		for (int64_t now = utc("2026-01-01 00:00"); now < utc("2028-01-01 00:00"); now += 900 * SECOND) {
			struct shift s = timetable_shift(&t, now);
			time_t from = (time_t)(s.from_us / SECOND), until = (time_t)(s.until_us / SECOND);
			struct tm a, b;
			assert_true(s.until_us > now && s.from_us < s.until_us);
			if (s.from_us == last)
				continue;
			localtime_r(&from, &a);
			localtime_r(&until, &b);
			assert_true(last == 0 || s.from_us > last);
			assert_int_equal(a.tm_hour * 60 + a.tm_min, 20 * 60);
			assert_int_equal(b.tm_hour * 60 + b.tm_min, 8 * 60);
			last = s.from_us;
			n++;
		}
		assert_in_range(n, 730, 732);
	}
}

static void weeks(void **state)
{
	/* ISO 8601: the first week of a year holds its first Thursday. */
	static const struct {
		const char *zone, *at, *week;
	} cases[] = {
		{ "UTC", "2026-11-27 20:00", "2026-W48" }, { "UTC", "2026-01-01 00:00", "2026-W01" },
		{ "UTC", "2027-01-01 20:00", "2026-W53" }, { "UTC", "2024-12-30 20:00", "2025-W01" },
		{ BERLIN, "2026-11-22 23:30", "2026-W48" }, { "UTC", "2026-11-22 23:30", "2026-W47" },
	};
	char week[WEEK_TEXT];
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		set_zone(cases[i].zone);
		struct timetable t = table_of("", "");
		assert_string_equal(timetable_week(&t, utc(cases[i].at), week), cases[i].week);
	}
}

static void hours_of_a_week(void **state)
{
	static const struct {
		const char *hours, *days;
		double      week;
		int         shifts;
	} cases[] = {
		{ "", "", 168, 1 },
		{ "20:00-08:00", "", 84, 7 },
		{ "20:00-08:00", "friday saturday", 24, 2 },
		{ "09:00-17:30", "monday", 8.5, 1 },
		{ "20:00-20:00", "", 168, 7 },
		{ "20:00-24:00", "sunday", 4, 1 },
	};
	int shifts;
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct timetable t = table_of(cases[i].hours, cases[i].days);
		double week = timetable_week_hours(&t, &shifts);
		if (!(fabs(week - cases[i].week) < 1e-9) || shifts != cases[i].shifts)
			fail_msg("\"%s\" \"%s\": %.2f h in %d", cases[i].hours, cases[i].days, week, shifts);
	}
}

static void bad_ones_are_refused(void **state)
{
	static const char *const hours[] = { "20:00", "20-8", "20:00-8:00", "24:00-08:00", "20:00-25:00", "20:60-08:00",
					     "20:00-08:00 ", " 20:00-08:00", "-1:00-08:00", "20:00-+8:00", "20:00-08:00,09:00-10:00" };
	(void)state;

	for (size_t i = 0; i < sizeof hours / sizeof hours[0]; i++)
		if (timetable_hours(hours[i]))
			fail_msg("\"%s\" was taken", hours[i]);
	assert_true(timetable_hours("20:00-08:00") && timetable_hours("00:00-24:00"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(shifts),
		cmocka_unit_test(ends_are_local_times),
		cmocka_unit_test(weeks),
		cmocka_unit_test(hours_of_a_week),
		cmocka_unit_test(bad_ones_are_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
