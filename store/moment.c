#include "store/moment.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

/* Two digits at *p, which goes past them; -1: there are none. */
static int two(const char **p)
{
	const char *s = *p;

	if (s[0] < '0' || s[0] > '9' || s[1] < '0' || s[1] > '9')
		return -1;
	*p += 2;
	return 10 * (s[0] - '0') + s[1] - '0';
}

static int days_of(int year, int month)
{
	static const int days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
	bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);

	return days[month - 1] + (month == 2 && leap);
}

/* "2026-02-17", and what parts it from the hour. */
static int parse_day(const char **p, struct moment *m)
{
	int century = two(p), rest = two(p);

	if (century < 0 || rest < 0 || *(*p)++ != '-')
		return -1;
	m->year = 100 * century + rest;
	m->month = two(p);
	if (m->month < 1 || m->month > 12 || *(*p)++ != '-')
		return -1;
	m->day = two(p);
	if (m->day < 1 || m->day > days_of(m->year, m->month) || (**p != ' ' && **p != 'T'))
		return -1;
	++*p;
	return m->year >= 1970 ? 0 : -1;
}

int moment_parse(const char *text, struct moment *out)
{
	struct moment m = { .given = true, .text = text };
	const char *p = text;

	m.dated = strlen(text) > 6;             /* "21:00Z" */
	if (m.dated && parse_day(&p, &m) < 0)
		return -1;
	m.hour = two(&p);
	if (m.hour < 0 || m.hour > 23 || *p++ != ':')
		return -1;
	m.minute = two(&p);
	if (m.minute < 0 || m.minute > 59)
		return -1;
	if (m.dated && strncmp(p, ":00", 3) == 0)
		p += 3;
	m.utc = *p == 'Z';
	if (p[m.utc])
		return -1;
	*out = m;
	return 0;
}

static struct tm broken(time_t s, bool utc)
{
	struct tm tm = { 0 };

	if (utc)
		gmtime_r(&s, &tm);
	else
		localtime_r(&s, &tm);
	return tm;
}

/* What a clock on the wall shows of the day and the hour. */
static bool shows(time_t s, const struct tm *want, bool utc)
{
	struct tm tm = broken(s, utc);

	return tm.tm_year == want->tm_year && tm.tm_mon == want->tm_mon &&
	       tm.tm_mday == want->tm_mday && tm.tm_hour == want->tm_hour &&
	       tm.tm_min == want->tm_min;
}

/* The first or last time at which it does; false: never. Zones differ from UTC by up to 14 h, and
 * change by quarters of an hour. */
static bool find(const struct tm *want, bool utc, bool last, time_t *found)
{
	struct tm tm = *want;
	time_t middle = timegm(&tm);
	bool any = false;

	for (time_t s = middle - 15 * 3600; s <= middle + 15 * 3600 && (last || !any); s += 60)
		if (shows(s, want, utc)) {
			*found = s;
			any = true;
		}
	return any;
}

int moment_us(const struct moment *m, int64_t after_us, bool last, const char *name, int64_t *us,
	      struct fault *why)
{
	struct tm tm = { .tm_year = m->year - 1900, .tm_mon = m->month - 1, .tm_mday = m->day };
	time_t s = 0;

	if (!m->dated)
		tm = broken((time_t)(after_us / 1000000), m->utc);
	tm.tm_hour = m->hour;
	tm.tm_min = m->minute;
	tm.tm_sec = 0;
	/* Today if that is not yet past, else tomorrow; where clocks skip it then, the day after.
	 */
	for (int day = 0; day < 3; day++) {
		if (find(&tm, m->utc, last, &s) && (m->dated || (int64_t)s * 1000000 >= after_us)) {
			*us = (int64_t)s * 1000000;
			return 0;
		}
		if (m->dated)
			break;
		tm.tm_mday++;
		struct tm next = tm;
		s = timegm(&next);
		tm.tm_mday = next.tm_mday;
		tm.tm_mon = next.tm_mon;
		tm.tm_year = next.tm_year;
	}
	return fault_set(why, FAULT_INPUT,
			 "--%s is \"%.40s\", an hour that the clocks here skipped, "
			 "must be another",
			 name, m->text);
}
