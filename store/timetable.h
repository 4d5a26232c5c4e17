#ifndef BANDCENSUS_STORE_TIMETABLE_H
#define BANDCENSUS_STORE_TIMETABLE_H

#include "store/settings.h"

/* When watch is kept, in the place's own time: "20:00-08:00" on the days on which it begins. Pure;
 * the zone is brought by who asks. */
struct timetable {
	bool     always;
	int      from_min, until_min;   /* of the day; until at or before from: of the next one */
	unsigned days;                  /* bit 0: it begins on Mondays, ...                     */
	int32_t (*ahead_s)(int64_t us); /* of UTC then                                          */
};

/* As they are written in settings: "20:00-08:00", and the names of days, NULL at the end. */
#define TIMETABLE_HOURS "hours such as \"20:00-08:00\", local time"
bool timetable_hours(const char *text);
extern const char *const timetable_days[];

/* Of what timetable_hours takes, or "": always; days of timetable_days, in any case, none: every day.
 * ahead_s NULL: nothing is asked but timetable_week_hours. */
struct timetable timetable_of(const char *hours, const struct texts *days, int32_t (*ahead_s)(int64_t us));

/* UTC; until_us is the first moment that is not in it. */
struct shift {
	int64_t from_us, until_us;
};

/* The shift under way at that time, or the next one. One that is always goes week by week, from
 * Monday 0:00. Where clocks are put forward or back within a minute that the timetable names, the
 * shift begins by the earlier reading and ends by the later: it is never shorter than written. */
struct shift timetable_shift(const struct timetable *t, int64_t now_us);

/* Of watch in a week in which no clocks are put forward or back, and in how many shifts. */
double timetable_week_hours(const struct timetable *t, int *shifts);

/* "2026-W48": the week (ISO 8601) of the local day on which a shift began. Returns out. */
#define WEEK_TEXT 16
char *timetable_week(const struct timetable *t, int64_t us, char out[WEEK_TEXT]);

#endif
