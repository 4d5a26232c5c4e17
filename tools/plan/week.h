#ifndef BANDCENSUS_TOOLS_PLAN_WEEK_H
#define BANDCENSUS_TOOLS_PLAN_WEEK_H

#include <stdbool.h>
#include <stdint.h>

/* A band by the hours of the week, in the time of the place: Monday's first is hour 0. The
 * local time comes with the data: whoever adds says it. */
#define WEEK_HOURS 168
#define DAY_HOURS  24

enum week_state {
	WEEK_NOT_LOOKED = 0,    /* nobody looked: nothing is known                  */
	WEEK_QUIET,             /* looked at, and no over met                       */
	WEEK_HEARD,             /* an over of a channel that is not always on began */
	WEEK_STATES
};

/* Sums over the band's channels, of that hour in all weeks. */
struct week_cell {
	double  looked_us;
	double  busy_us;        /* at the squelch, always-on channels too */
	int64_t overs;          /* that began in it, of channels that go off */
};

struct week {
	struct week_cell cell[WEEK_HOURS];
};

/* The hour of the week of a local time, 0 .. WEEK_HOURS - 1, also before 1970. */
int week_hour(int64_t local_us);

enum week_state week_state(const struct week_cell *c);

/* "Mon" .. "Sun" */
const char *week_day_name(int day);

/* Of a day (0 Monday) or of any day (-1): bit h: some hour h is in that state or, of any day,
 * in it or a higher one. */
uint32_t week_hours_in(const struct week *w, int day, enum week_state state);

/* Where the busiest hour of the day begins, all days together (time-consistent busy hour), and
 * how busy its channels were, 0 .. 1; -1 when no hour was looked at. */
int week_busy_hour(const struct week *w, double *occupancy);

/* The part of working days between eight and six in which most services of the day are
 * heard (common practice): how many of these WEEK_WORK hours were looked at. */
#define WEEK_WORK_FROM 8
#define WEEK_WORK_TO   18
#define WEEK_WORK      (5 * (WEEK_WORK_TO - WEEK_WORK_FROM))
int week_work_hours(const struct week *w);

#endif
