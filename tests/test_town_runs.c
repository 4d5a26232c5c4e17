#include "tests/town_world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Other days and hours of the same table. */

#define SUNDAY_NIGHT "2026-02-22T20:00:00Z"
#define WEEKDAY      "2026-02-18T08:00:00Z"
#define SATURDAY     "2026-02-21T08:00:00Z"

static const struct {
	const char *why, *start, *name;
	int64_t     from_min, to_min;   /* after the start */
	bool        on;                 /* at some time between */
} runs[] = {
	{ "the plant works by day",               WEEKDAY,      "Concrete Plant",   0, 480, true },
	{ "not on a Saturday",                    SATURDAY,     "Concrete Plant",   0, 720, false },
	{ "not on a Sunday night",                SUNDAY_NIGHT, "Concrete Plant",   0, 600, false },
	{ "on Monday morning it does",            SUNDAY_NIGHT, "Concrete Plant", 600, 720, true },
	{ "buses fetch the pupils on Monday",     SUNDAY_NIGHT, "School Bus",     600, 720, true },
	{ "and on no Saturday",                   SATURDAY,     "School Bus",       0, 720, false },
	{ "the club flies at weekends",           SATURDAY,     "Flying Club",     60, 600, true },
	{ "nothing burns by day",                 WEEKDAY,      "Fireground 1",     0, 720, false },
	{ "it burns at 21:40 of any night",       SUNDAY_NIGHT, "Fireground 1",   100, 170, true },
	{ "no bulletin is read by day",           WEEKDAY,      "Trunk Control B",  0, 720, false },
	{ "the vans are in bed",                  WEEKDAY,      "Bakery Vans",      0, 720, false },
};

static void other_days(void **state)
{
	struct world *w = *state;
	char was[32];

	memcpy(was, w->town.start, sizeof was);
	for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++) {
		struct fault why;
		int n;
		assert_int_equal(town_move(&w->town, runs[i].start, "test", &why), 0);
		struct night *night = night_create(&w->town, SEED);
		assert_non_null(night);
		const struct over *o = night_overs(night, town_emitter(&w->town, runs[i].name), &n);
		int k = over_after(o, n, runs[i].from_min * MIN_US);
		bool on = k < n && o[k].start_us < runs[i].to_min * MIN_US;
		if (on != runs[i].on)
			fail_msg("%s: %s was%s heard, run of %s, seed %llu", runs[i].why, runs[i].name,
				 on ? "" : " not", runs[i].start, (unsigned long long)SEED);
		night_destroy(night);
	}
	assert_int_equal(town_move(&w->town, was, "test", &(struct fault){ 0 }), 0);
}

/* Whoever is silent at weekends says nothing then, busy hours or not, by himself or keyed by another. */
static void silent_at_weekends(void **state)
{
	struct world *w = *state;
	struct town t = w->town;
	struct fault why;

	t.emitters = calloc((size_t)t.n_emitters, sizeof *t.emitters);
	t.events = calloc((size_t)t.n_events, sizeof *t.events);
	assert_true(t.emitters && t.events);
	memcpy(t.emitters, w->town.emitters, (size_t)t.n_emitters * sizeof *t.emitters);
	memcpy(t.events, w->town.events, (size_t)t.n_events * sizeof *t.events);
	for (int i = 0; i < t.n_emitters; i++)
		t.emitters[i].weekdays = t.emitters[i].role != SENDER_GHOST;
	for (int day = 0; day < 2; day++) {
		int64_t overs = 0;
		assert_int_equal(town_move(&t, day ? SUNDAY_NIGHT : SATURDAY, "test", &why), 0);
		struct night *night = night_create(&t, SEED);
		assert_non_null(night);
		for (int i = 0, n; i < t.n_emitters; i++) {
			const struct over *o = night_overs(night, i, &n);
			overs += n;
			if (n > 0 && (day == 0 || o[0].start_us < 240 * MIN_US))
				fail_msg("%s is on at the weekend, %s", t.emitters[i].name, t.start);
		}
		/* From midnight on it is Monday. */
		assert_true(day ? overs > 1000 : overs == 0);
		night_destroy(night);
	}
	town_free(&t);
}

static const struct {
	const char     *why, *start;
	enum event_kind what;
	int64_t         from_min, until_min;    /* after the start */
} moved[] = {
	{ "lamps are on already at midnight",     "2026-02-18T00:00:00Z", EVENT_NOISE, 0, 360 },
	{ "and come on again at 23:00",           WEEKDAY,                EVENT_NOISE, 900, 1320 },
	{ "the dongle falls off at 02:10",        "2026-02-18T00:00:00Z", EVENT_LOST, 130, 134 },
	{ "the clock is stepped at 03:30",        "2026-02-18T03:30:00Z", EVENT_CLOCK, 0, 0 },
	{ "once a day",                           "2026-02-18T03:31:00Z", EVENT_CLOCK, 1439, 1439 },
};

static void events_keep_their_time_of_day(void **state)
{
	struct world *w = *state;
	char was[32];
	struct fault why;

	memcpy(was, w->town.start, sizeof was);
	for (size_t i = 0; i < sizeof moved / sizeof moved[0]; i++) {
		const struct event *v = w->town.events;
		assert_int_equal(town_move(&w->town, moved[i].start, "test", &why), 0);
		while (v->what != (int)moved[i].what)
			v++;
		if (v->from_us != moved[i].from_min * MIN_US || v->until_us != moved[i].until_min * MIN_US)
			fail_msg("%s: %lld to %lld min", moved[i].why, (long long)(v->from_us / MIN_US),
				 (long long)(v->until_us / MIN_US));
	}
	assert_int_equal(town_move(&w->town, "2026-02-30", "somebody", &why), -1);
	assert_string_equal(why.text, "somebody is \"2026-02-30\", must be like \"2026-02-17T20:00:00Z\"");
	assert_int_equal(town_move(&w->town, was, "test", &why), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(other_days),
		cmocka_unit_test(silent_at_weekends),
		cmocka_unit_test(events_keep_their_time_of_day),
	};

	return cmocka_run_group_tests(tests, world_build, world_drop);
}
