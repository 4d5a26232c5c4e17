#include "store/town.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#define DAY_US    INT64_C(86400000000)
#define HOUR_US   INT64_C(3600000000)
#define MIN_US    INT64_C(60000000)
#define SKIRT_HZ  1.2e6         /* raised noise has fallen to the usual this far outside */

int town_emitter(const struct town *t, const char *name)
{
	for (int i = 0; i < t->n_emitters; i++)
		if (strcmp(t->emitters[i].name, name) == 0)
			return i;
	return -1;
}

int64_t town_at(const struct town *t, const char *clock)
{
	int hour, minute, used = 0;

	if (sscanf(clock, "%2d:%2d%n", &hour, &minute, &used) != 2 || clock[used] || hour < 0 ||
	    hour > 23 || minute < 0 || minute > 59)
		return -1;
	return ((hour * 60 + minute) * MIN_US - t->start_us % DAY_US + DAY_US) % DAY_US;
}

/* What ends before it begins is under way at the start. */
static void event_times(struct town *t, struct event *v)
{
	v->from_us = town_at(t, v->from);
	v->until_us = *v->until ? town_at(t, v->until) : v->from_us;
	if (v->until_us < v->from_us)
		v->from_us = 0;
}

int town_move(struct town *t, const char *start, const char *said, struct fault *why)
{
	struct tm tm = { 0 };
	const char *end = strptime(start, "%Y-%m-%dT%H:%M:%SZ", &tm);
	time_t s = end && !*end ? timegm(&tm) : -1;

	if (s < 0)
		return fault_set(why, FAULT_INPUT,
				 "%s is \"%.40s\", must be like \"2026-02-17T20:00:00Z\"", said,
				 start);
	t->start_us = (int64_t)s * 1000000;
	for (int i = 0; i < t->n_events; i++)
		event_times(t, &t->events[i]);
	snprintf(t->start, sizeof t->start, "%s", start);
	return 0;
}

bool town_day_off(const struct town *t, const struct emitter *e, int64_t us)
{
	int64_t day = (t->start_us + us) / DAY_US;
	int weekday = (int)((day + 4) % 7);     /* 1970-01-01 was a Thursday; 0 is Sunday */

	return e->weekdays && (weekday == 0 || weekday == 6);
}

bool town_busy(const struct town *t, const struct emitter *e, int64_t us)
{
	int64_t at = t->start_us + us;

	return !town_day_off(t, e, us) && e->hours >> (at % DAY_US / HOUR_US) & 1;
}

double town_crystal_ppm(const struct town *t, int64_t us)
{
	double left = t->warm_up_us > 0 ? exp(-4 * (double)us / (double)t->warm_up_us) : 0;

	return t->crystal_ppm + t->warm_ppm + (t->cold_ppm - t->warm_ppm) * left;
}

double town_rise_db(const struct town *t, double hz, int64_t us)
{
	double rise = 0;

	for (int i = 0; i < t->n_events; i++) {
		const struct event *v = &t->events[i];
		if (v->what != EVENT_NOISE || us < v->from_us || us >= v->until_us)
			continue;
		double out = fmax(fmax(freq_to_hz(v->low) - hz, hz - freq_to_hz(v->high)), 0);
		rise += v->rise_db * fmax(1 - out / SKIRT_HZ, 0);
	}
	return rise;
}

int64_t town_clock_us(const struct town *t, int64_t us)
{
	int64_t clock = t->start_us + us;

	for (int i = 0; i < t->n_events; i++)
		if (t->events[i].what == EVENT_CLOCK && us >= t->events[i].from_us)
			clock += llround(t->events[i].step_s * 1e6);
	return clock;
}

const struct event *town_event(const struct town *t, enum event_kind what, int64_t from,
			       int64_t to)
{
	for (int i = 0; i < t->n_events; i++)
		if (t->events[i].what == (int)what && from < t->events[i].until_us &&
		    to > t->events[i].from_us)
			return &t->events[i];
	return NULL;
}

double town_noise_dbm(const struct town *t, const struct emitter *e, int64_t us)
{
	double hz = 0.6 * fmax(freq_to_hz(e->step), freq_to_hz(e->width));
	double rise_db = town_rise_db(t, freq_to_hz(e->frequency), us);

	return t->noise_dbm + 10 * log10(hz / 12500) + rise_db;
}
