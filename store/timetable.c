#include "store/timetable.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <time.h>

#define SECOND   INT64_C(1000000)
#define MINUTE   (60 * SECOND)
#define DAY      (86400 * SECOND)
#define DAY_MINS (24 * 60)
#define WEEK     7

const char *const timetable_days[] = { "monday", "tuesday",  "wednesday", "thursday",
				       "friday", "saturday", "sunday",    NULL };

/* "20:00", with 24:00 as the end of the day; -1: it is none. */
static int minute_of(const char *text, const char **end)
{
	int hour, minute, n = 0;

	if (sscanf(text, "%2d:%2d%n", &hour, &minute, &n) < 2 || n != 5 || hour < 0 || minute < 0 ||
	    minute > 59 || hour * 60 + minute > DAY_MINS || strspn(text, "0123456789:") < 5)
		return -1;
	*end = text + n;
	return hour * 60 + minute;
}

static int hours_of(const char *hours, struct timetable *out)
{
	const char *p;

	out->from_min = minute_of(hours, &p);
	if (out->from_min < 0 || out->from_min == DAY_MINS || *p != '-')
		return -1;
	out->until_min = minute_of(p + 1, &p);
	return out->until_min < 0 || *p ? -1 : 0;
}

bool timetable_hours(const char *text)
{
	struct timetable t;

	return hours_of(text, &t) == 0;
}

struct timetable timetable_of(const char *hours, const struct texts *days, int32_t (*ahead_s)(int64_t us))
{
	struct timetable t = { .ahead_s = ahead_s };

	t.always = hours_of(hours, &t) < 0;
	for (int i = 0; i < days->n; i++)
		for (int d = 0; d < WEEK; d++)
			if (strcasecmp(days->at[i], timetable_days[d]) == 0)
				t.days |= 1u << d;
	if (t.days == 0)
		t.days = (1u << WEEK) - 1;
	return t;
}

static int64_t floor_div(int64_t a, int64_t b)
{
	return a / b - (a % b < 0);
}

static int64_t local_us(const struct timetable *t, int64_t us)
{
	return us + t->ahead_s(us) * SECOND;
}

/* 0: Monday. The epoch was a Thursday. */
static int weekday(int64_t local_day)
{
	int64_t d = local_day + 3;

	return (int)(d - floor_div(d, WEEK) * WEEK);
}

/* UTC of what local clocks show. They show some times twice a year and some never: the earlier
 * reading or the later. */
static int64_t utc_us(const struct timetable *t, int64_t shown_us, bool later)
{
	int64_t a = shown_us - t->ahead_s(shown_us - DAY) * SECOND,
		b = shown_us - t->ahead_s(shown_us + DAY) * SECOND;
	bool a_is = local_us(t, a) == shown_us, b_is = local_us(t, b) == shown_us;

	if (a_is != b_is)
		return a_is ? a : b;
	return (a < b) == later ? b : a;
}

/* Minutes after the midnight before it begins. */
static int ends_min(const struct timetable *t)
{
	return t->until_min > t->from_min ? t->until_min : t->until_min + DAY_MINS;
}

static struct shift shift_of_day(const struct timetable *t, int64_t local_day)
{
	int64_t midnight = local_day * DAY;

	return (struct shift){ utc_us(t, midnight + t->from_min * MINUTE, false),
			       utc_us(t, midnight + ends_min(t) * MINUTE, true) };
}

struct shift timetable_shift(const struct timetable *t, int64_t now_us)
{
	int64_t today = floor_div(local_us(t, now_us), DAY);

	if (t->always) {
		int64_t monday = (today - weekday(today)) * DAY;
		return (struct shift){ utc_us(t, monday, false),
				       utc_us(t, monday + WEEK * DAY, false) };
	}
	/* The one that began yesterday may still be on; in eight days there is one. */
	for (int64_t day = today - 1;; day++) {
		struct shift s = shift_of_day(t, day);
		if (t->days >> weekday(day) & 1 && s.until_us > now_us)
			return s;
	}
}

double timetable_week_hours(const struct timetable *t, int *shifts)
{
	*shifts = t->always ? 1 : __builtin_popcount(t->days);
	return t->always ? WEEK * 24 : *shifts * (ends_min(t) - t->from_min) / 60.0;
}

char *timetable_week(const struct timetable *t, int64_t us, char out[WEEK_TEXT])
{
	time_t s = (time_t)floor_div(local_us(t, us), SECOND);
	struct tm tm;

	gmtime_r(&s, &tm);
	strftime(out, WEEK_TEXT, "%G-W%V", &tm);
	return out;
}
