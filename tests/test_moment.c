#include "tests/test.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "store/moment.h"
#include "tests/fault_check.h"

/* Zones are spelt out, so that no computer needs a list of them. Central Europe's clocks change on the last
 * Sundays of March and October at 01:00 UTC (Directive 2000/84/EC, from memory); those of the east of North
 * America at 02:00 local on the second Sunday of March and the first of November (15 U.S.C. 260a, from memory). */
#define EUROPE  "CET-1CEST,M3.5.0,M10.5.0/3"
#define AMERICA "EST5EDT,M3.2.0,M11.1.0"
#define INDIA   "IST-5:30"

/* Seconds of UTC, as `date -u +%s -d ...` of GNU coreutils says. */
#define FEB_17_20Z INT64_C(1771358400)  /* 2026-02-17T20:00:00Z, a Tuesday */
#define MAR_29_00Z INT64_C(1774742400)
#define OCT_25_00Z INT64_C(1792886400)
#define MIN(n) ((n) * INT64_C(60))
#define HOUR(n) ((n) * INT64_C(3600))

static const struct {
	const char *why, *zone, *text;
	int64_t     after, want;        /* s */
	bool        last;
} good[] = {
	{ "UTC by its letter", EUROPE, "2026-02-17 20:00Z", 0, FEB_17_20Z, false },
	{ "as standards write it", EUROPE, "2026-02-17T20:00:00Z", 0, FEB_17_20Z, false },
	{ "in winter an hour ahead", EUROPE, "2026-02-17 21:00", 0, FEB_17_20Z, false },
	{ "in the west behind", AMERICA, "2026-02-17 15:00", 0, FEB_17_20Z, false },
	{ "half an hour off", INDIA, "2026-02-18 01:30", 0, FEB_17_20Z, false },
	{ "a leap day", "UTC0", "2028-02-29 00:00", 0, INT64_C(1835395200), false },
	{ "an hour that is still to come", EUROPE, "23:30", FEB_17_20Z, FEB_17_20Z + MIN(150), false },
	{ "the very hour", EUROPE, "21:00", FEB_17_20Z, FEB_17_20Z, false },
	{ "an hour that is past: tomorrow", EUROPE, "20:59", FEB_17_20Z, FEB_17_20Z + HOUR(24) - 60, false },
	{ "an hour of UTC", EUROPE, "20:00Z", FEB_17_20Z, FEB_17_20Z, false },
	{ "tomorrow by the place's clock, today by UTC's", EUROPE, "00:30", FEB_17_20Z, FEB_17_20Z + MIN(210),
	  false },
	{ "before the clocks go forward", EUROPE, "2026-03-29 01:59", 0, MAR_29_00Z + MIN(59), false },
	{ "after they did", EUROPE, "2026-03-29 03:00", 0, MAR_29_00Z + HOUR(1), false },
	{ "the night they do is an hour short", EUROPE, "06:00", MAR_29_00Z - HOUR(3), MAR_29_00Z + HOUR(4), false },
	{ "an hour that comes twice: the first", EUROPE, "2026-10-25 02:30", 0, OCT_25_00Z + MIN(30), false },
	{ "the second, where it ends", EUROPE, "2026-10-25 02:30", 0, OCT_25_00Z + MIN(90), true },
	{ "the last before it", EUROPE, "2026-10-25 01:59", 0, OCT_25_00Z - MIN(1), true },
	{ "an hour skipped tonight is tomorrow's", EUROPE, "02:30", MAR_29_00Z, MAR_29_00Z + MIN(24 * 60 + 30), false },
};

static const char *const bad[] = { "", "now", "21", "21:0", "24:00", "21:60", "9:00", "21:00z", "21:00:00", "2026-02-17",
	"2026-02-30 21:00", "2026-13-01 21:00", "2026-00-01 21:00", "2026-02-00 21:00", "2027-02-29 21:00",
	"1969-12-31 23:00", "2026-02-17  21:00", "2026-02-17 21:00:30", "2026-02-17 21:00 Z", "26-02-17 21:00",
	"2026-2-17 21:00", "-21:00", "21:00ZZ" };

static void zone(const char *name)
{
	setenv("TZ", name, 1);
	tzset();
}

static void moments(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
		struct moment m;
		struct fault why;
		int64_t us = 0;
		zone(good[i].zone);
		if (moment_parse(good[i].text, &m) < 0)
			fail_msg("%s: \"%s\" is not taken", good[i].why, good[i].text);
		if (moment_us(&m, good[i].after * 1000000, good[i].last, "since", &us, &why) < 0)
			fail_msg("%s: %s", good[i].why, why.text);
		if (us != good[i].want * 1000000)
			fail_msg("%s: %" PRId64 " s, want %" PRId64 " s", good[i].why, us / 1000000, good[i].want);
	}
}

static void no_moments(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct moment m;
		if (moment_parse(bad[i], &m) == 0)
			fail_msg("\"%s\" is taken for a time", bad[i]);
	}
}

static void skipped_hours(void **state)
{
	struct moment m;
	struct fault why;
	int64_t us;
	(void)state;

	zone(AMERICA);
	assert_int_equal(moment_parse("2026-03-08 02:30", &m), 0);
	assert_int_equal(moment_us(&m, 0, false, "until", &us, &why), -1);
	check_fault("2026-03-08 02:30", &why, FAULT_INPUT, "--until is \"2026-03-08 02:30\", an hour that the clocks here skipped");
}

/* What the C library's own inverse says of every whole hour of a year, wherever it is not of two minds. */
static void every_hour_of_a_year(void **state)
{
	static const char *const zones[] = { EUROPE, AMERICA, INDIA, "UTC0", "NZST-12NZDT,M9.5.0,M4.1.0/3" };
	(void)state;

	for (size_t z = 0; z < sizeof zones / sizeof zones[0]; z++) {
		zone(zones[z]);
		for (time_t s = INT64_C(1767225600); s < INT64_C(1798761600); s += 5 * 3600) {
			struct moment m;
			struct fault why;
			struct tm tm;
			char text[40];
			int64_t first = 0, last = 0;
			localtime_r(&s, &tm);
			strftime(text, sizeof text, "%Y-%m-%d %H:%M", &tm);
			assert_int_equal(moment_parse(text, &m), 0);
			assert_int_equal(moment_us(&m, 0, false, "since", &first, &why), 0);
			assert_int_equal(moment_us(&m, 0, true, "until", &last, &why), 0);
			if (first / 1000000 != s && last / 1000000 != s)
				fail_msg("%s in %s is neither", text, zones[z]);
			assert_true(last - first == 0 || last - first == INT64_C(3600000000));
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(moments), cmocka_unit_test(no_moments), cmocka_unit_test(skipped_hours),
		cmocka_unit_test(every_hour_of_a_year),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
