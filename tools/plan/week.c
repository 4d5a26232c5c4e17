#include "tools/plan/week.h"

#define HOUR INT64_C(3600000000)

/* 1970 began on a Thursday. */
#define THURSDAY 3

int week_hour(int64_t local_us)
{
	int64_t hours = local_us / HOUR - (local_us % HOUR < 0) + THURSDAY * DAY_HOURS;

	return (int)((hours % WEEK_HOURS + WEEK_HOURS) % WEEK_HOURS);
}

enum week_state week_state(const struct week_cell *c)
{
	if (c->overs > 0)
		return WEEK_HEARD;
	return c->looked_us > 0 ? WEEK_QUIET : WEEK_NOT_LOOKED;
}

const char *week_day_name(int day)
{
	static const char *const names[] = { "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun" };
	return names[day];
}

uint32_t week_hours_in(const struct week *w, int day, enum week_state state)
{
	uint32_t hours = 0;

	for (int h = 0; h < WEEK_HOURS; h++) {
		enum week_state is = week_state(&w->cell[h]);
		if (day < 0 ? is >= state : h / DAY_HOURS == day && is == state)
			hours |= UINT32_C(1) << h % DAY_HOURS;
	}
	return hours;
}

int week_busy_hour(const struct week *w, double *occupancy)
{
	int busiest = -1;

	*occupancy = 0;
	for (int h = 0; h < DAY_HOURS; h++) {
		double looked = 0, busy = 0;
		for (int d = h; d < WEEK_HOURS; d += DAY_HOURS) {
			looked += w->cell[d].looked_us;
			busy += w->cell[d].busy_us;
		}
		if (looked > 0 && (busiest < 0 || busy / looked > *occupancy)) {
			busiest = h;
			*occupancy = busy / looked;
		}
	}
	return busiest;
}

int week_work_hours(const struct week *w)
{
	int n = 0;

	for (int h = 0; h < WEEK_HOURS; h++)
		n += h / DAY_HOURS < 5 && h % DAY_HOURS >= WEEK_WORK_FROM &&
		     h % DAY_HOURS < WEEK_WORK_TO && week_state(&w->cell[h]) != WEEK_NOT_LOOKED;
	return n;
}
