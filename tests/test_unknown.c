#include "tests/test.h"

#include "tests/plan_world.h"
#include "tools/plan/unknown.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ALL_DAYS 0x7f

/* Hours looked at: on the days whose bit is set (0: Monday), from .. to. */
struct watch {
	unsigned days;
	int      from, to;
};

static void look(struct week *w, struct watch on)
{
	for (int d = 0; d < 7; d++)
		for (int h = on.from; h < on.to; h++)
			if (on.days >> d & 1)
				w->cell[d * DAY_HOURS + h].looked_us = 1;
}

/* Bands of these services, all looked at in the same hours, and what is not known then. */
static void know(struct scene *s, const char *const services[], int n, const struct watch *on, int times)
{
	struct band band[4] = { { .id = "" } };

	for (int b = 0; b < n; b++) {
		band[b] = world_band[WORLD_BUSINESS];
		snprintf(band[b].service, sizeof band[b].service, "%s", services[b]);
	}
	scene_begin(s, band, n);
	scene_propose(s);
	for (int b = 0; b < n; b++) {
		s->census->week[b] = (struct week){ 0 };
		for (int i = 0; i < times; i++)
			look(&s->census->week[b], on[i]);
	}
	unknown_free(&s->plan->unknown);
	assert_int_equal(unknown_find(s->census, s->suspect, &s->interests, &s->plan->unknown), 0);
}

static const struct {
	const char  *why;
	const char  *service[3];
	struct watch looked[2];
	const char  *want;              /* the best hours */
} nexts[] = {
	{ "after a night: who talks by day", { "business", "works" }, { { 0x18, 20, 24 }, { 0x30, 0, 8 } },
	  "a weekday 08:00-12:00 would tell most: business, public works" },
	{ "the fire brigade sleeps as little as who looks", { "fire" }, { { 0x1f, 0, 24 }, { 0 } },
	  "a Saturday 17:00-21:00 would tell most: fire" },
	{ "police by weekend", { "police" }, { { 0x0f, 0, 24 }, { ALL_DAYS, 3, 20 } },
	  "a Saturday 20:00-24:00 would tell most: police" },
	{ "two weekdays known, a third tells less than a Saturday", { "personal" }, { { 0x03, 0, 24 }, { 0 } },
	  "a Saturday 09:00-13:00 would tell most: personal handhelds" },
	{ "who has no weight does not count", { "paging", "marine" }, { { 0x60, 0, 24 }, { 0 } },
	  "a weekday 05:00-09:00 would tell most: ships" },
};

static void best_hours(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof nexts / sizeof nexts[0]; i++) {
		struct scene s;
		char words[NEXT_TEXT];
		int n = 0;
		while (n < 3 && nexts[i].service[n])
			n++;
		know(&s, nexts[i].service, n, nexts[i].looked, 2);
		assert_true(s.plan->unknown.blocks > 0);
		unknown_next_words(&s.plan->unknown.next[0], words);
		if (strcmp(words, nexts[i].want) != 0)
			fail_msg("%s: %s", nexts[i].why, words);
		scene_end(&s);
	}
}

/* All blocks tried plainly: none tells more than the first, by the header's rule. */
static void none_tells_more(void **state)
{
	static const char *const services[] = { "fire", "business", "amateur", "air" };
	static const double weight[] = { 10, 3, 4, 5 };
	static const struct watch on[] = { { 0x13, 18, 24 }, { 0x41, 0, 7 } };
	static const int first[] = { 0, 5, 6 }, last[] = { 4, 5, 6 };
	double best = 0, got = 0, unknown = 0, all = 0;
	struct scene s;

	(void)state;
	know(&s, services, 4, on, 2);
	const struct next_hours *next = &s.plan->unknown.next[0];
	for (int kind = 0; kind < 3; kind++)
		for (int from = 0; from <= 20; from++) {
			double tells = 0;
			for (int b = 0; b < 4; b++) {
				double share[WEEK_HOURS];
				unknown_habit(services[b], share);
				for (int h = from; h < from + 4; h++) {
					double usual = 0;
					int looked = 0;
					for (int d = first[kind]; d <= last[kind]; d++) {
						usual += weight[b] * share[d * 24 + h];
						looked += s.census->week[b].cell[d * 24 + h].looked_us > 0;
					}
					tells += usual / (1 + looked) - usual / (2 + looked);
					all += from % 4 ? 0 : usual;
					unknown += from % 4 ? 0 : usual / (1 + looked);
				}
			}
			best = fmax(best, tells);
			if ((int)next->on == kind && next->from == from)
				got = tells;
		}
	assert_true(fabs(got - best) < 1e-9);
	assert_true(fabs(all - 22) < 1e-9);
	assert_true(fabs(next->tells - got / unknown) < 1e-9);
	assert_true(fabs(s.plan->unknown.share - unknown / all) < 1e-9);
	for (int i = 1; i < s.plan->unknown.blocks; i++)
		assert_true(s.plan->unknown.next[i].tells <= s.plan->unknown.next[i - 1].tells + 1e-9);
	scene_end(&s);
}

static void habits_add_up(void **state)
{
	static const char *const services[] = { "fire", "business", "school", "nobody", "police" };

	(void)state;
	for (size_t i = 0; i < sizeof services / sizeof services[0]; i++) {
		double share[WEEK_HOURS], sum = 0;
		unknown_habit(services[i], share);
		for (int h = 0; h < WEEK_HOURS; h++)
			sum += share[h];
		assert_true(fabs(sum - 1) < 1e-9);
	}
	double works[WEEK_HOURS];
	unknown_habit("works", works);
	assert_true(works[10] > 4 * works[22] && works[10] > 4 * works[5 * 24 + 10]);
}

/* When services talk, the first row that holds, and so many times as much as else (all common practice). */
static const struct {
	const char *service;
	unsigned    days;
	int         from, to;
	double      times;
	bool        of_the_day;
} usual[] = {
	{ "business", 0x1f, 8, 18, 8, true }, { "works", 0x1f, 7, 17, 8, true }, { "mixed", 0x1f, 8, 18, 8, true },
	{ "service", 0x1f, 8, 18, 4, true }, { "transport", 0x1f, 6, 19, 8, true }, { "bus", 0x1f, 6, 19, 8, true },
	{ "school", 0x1f, 7, 9, 16, true }, { "school", 0x1f, 14, 16, 16, true },
	{ "fire", ALL_DAYS, 11, 13, 2, false }, { "fire", ALL_DAYS, 17, 21, 2, false }, { "ems", ALL_DAYS, 8, 22, 2, false },
	{ "police", 0x30, 20, 24, 4, false }, { "police", 0x60, 0, 2, 4, false }, { "air", ALL_DAYS, 7, 20, 4, false },
	{ "military-air", 0x1f, 8, 17, 8, false }, { "marine", ALL_DAYS, 5, 9, 3, false },
	{ "marine", 0x60, 9, 18, 3, false }, { "amateur", 0x1f, 7, 9, 2, false }, { "amateur", ALL_DAYS, 17, 22, 4, false },
	{ "personal", 0x1f, 15, 18, 4, false }, { "personal", 0x60, 9, 18, 4, false }, { "rail", 0, 0, 0, 1, false },
};

static void when_services_talk(void **state)
{
	enum { ROWS = sizeof usual / sizeof usual[0] };

	(void)state;
	for (int i = 0; i < ROWS; i++) {
		double share[WEEK_HOURS], times[WEEK_HOURS], all = 0;
		unknown_habit(usual[i].service, share);
		for (int h = 0; h < WEEK_HOURS; h++) {
			times[h] = 1;
			for (int k = ROWS - 1; k >= 0; k--)
				if (strcmp(usual[k].service, usual[i].service) == 0 && (usual[k].days >> h / 24 & 1) &&
				    h % 24 >= usual[k].from && h % 24 < usual[k].to)
					times[h] = usual[k].times;
			all += times[h];
		}
		for (int h = 0; h < WEEK_HOURS; h++)
			if (fabs(share[h] - times[h] / all) > 1e-12)
				fail_msg("%s, hour %d of day %d: %g", usual[i].service, h % 24, h / 24, share[h] * all);
		/* Services of the day are not known before an hour at work was looked at. */
		struct band band = world_band[WORLD_BUSINESS];
		struct week w = { 0 };
		const struct census c = { .band = &band, .week = &w, .bands = 1 };
		snprintf(band.service, sizeof band.service, "%s", usual[i].service);
		w.cell[7].looked_us = 1;
		assert_int_equal(unknown_by_day(&c, 0), usual[i].of_the_day);
		w.cell[8].looked_us = 1;
		assert_false(unknown_by_day(&c, 0));
	}
}

/* Band by band after a week of evenings. */
static void what_is_said_of_a_band(void **state)
{
	static const char *const services[] = { "fire", "business" };
	static const struct watch on[] = { { 0x1f, 18, 24 }, { 0x20, 0, 6 } };
	struct scene s;

	(void)state;
	know(&s, services, 2, on, 2);
	const struct unknown_band *fire = &s.plan->unknown.band[0], *business = &s.plan->unknown.band[1];
	assert_int_equal(fire->hours, 36);
	assert_true(fire->days[DAY_WEEK] && fire->days[DAY_SATURDAY] && !fire->days[DAY_SUNDAY]);
	assert_true(!fire->by_day && business->by_day);
	assert_true(fire->known > 0.2 && fire->known < 0.35 && business->known < 0.1);
	assert_true(fire->nothing && business->nothing);
	/* Nothing in four hours of looks each second, each sure to meet an over of 5 s: fewer than
	 * 3.0 / 4 h (rule of three, 95 %). */
	assert_true(fabs(fire->none_h - 2.9957 / 4) < 1e-3);
	/* Looked at once, or never: anything may have been on. */
	for (int looks = 0; looks < 2; looks++) {
		s.census->looked[0].looks = s.census->looked[1].looks = looks;
		s.census->looked[0].revisit_s = 0;
		unknown_free(&s.plan->unknown);
		assert_int_equal(unknown_find(s.census, s.suspect, &s.interests, &s.plan->unknown), 0);
		assert_true(isinf(s.plan->unknown.band[0].none_h));
		assert_int_equal(isinf(s.plan->unknown.band[1].none_h) != 0, looks == 0);
	}
	scene_end(&s);
}

/* All hours looked at many times would leave little; none at all leaves everything. */
static void all_or_nothing(void **state)
{
	static const char *const services[] = { "fire" };
	static const struct watch none[] = { { 0, 0, 0 } }, all[] = { { ALL_DAYS, 0, 24 } };
	struct scene s;

	(void)state;
	know(&s, services, 1, none, 1);
	assert_true(fabs(s.plan->unknown.share - 1) < 1e-9);
	assert_int_equal(s.plan->unknown.band[0].hours, 0);
	scene_end(&s);
	know(&s, services, 1, all, 1);
	assert_true(s.plan->unknown.share < 0.5 && s.plan->unknown.share > 0.1);
	assert_int_equal(s.plan->unknown.band[0].hours, WEEK_HOURS);
	assert_true(fabs(s.plan->unknown.band[0].known - 1) < 1e-9);
	scene_end(&s);
}

/* Floors are -70.0 dBFS in the band's measured width. */
static const struct {
	const char *why;
	const char *off;                /* as the baseline tells it; "": there is none */
	bool        heard, deaf;
} ears[] = {
	{ "no more noise than with the antenna off", "-70.20 dBFS of noise in 120 looks at 29.7 dB of gain", false, true },
	{ "0.9 dB more", "-70.90 dBFS of noise in 120 looks at 29.7 dB of gain", false, true },
	{ "the antenna brings noise", "-71.10 dBFS of noise in 120 looks at 29.7 dB of gain", false, false },
	{ "a station was heard", "-70.20 dBFS of noise in 120 looks at 29.7 dB of gain", true, false },
	{ "nobody took the antenna off", "", false, false },
	{ "words that are none", "quiet", false, false },
};

static void deaf_is_not_quiet(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof ears / sizeof ears[0]; i++) {
		struct artefact_row off = { .run = 1, .at_us = NIGHT_US, .band = 0, .channel = 200, .cause = "floor off" };
		struct scene s;
		snprintf(off.text, sizeof off.text, "%s", ears[i].off);
		scene_begin(&s, &world_band[WORLD_BUSINESS], 1);
		if (off.text[0])
			assert_int_equal(tally_artefact(s.tally, &off), 0);
		if (ears[i].heard)
			scene_talk(&s, 0, 200, 10, 250, KIND_NFM);
		scene_propose(&s);
		if (s.plan->unknown.band[0].deaf != ears[i].deaf)
			fail_msg("%s: told %s", ears[i].why, ears[i].deaf ? "quiet" : "deaf");
		/* It is no artefact of that channel. */
		if (ears[i].heard)
			assert_non_null(scene_memory(&s, 0, 200));
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(best_hours),
		cmocka_unit_test(none_tells_more),
		cmocka_unit_test(habits_add_up),
		cmocka_unit_test(when_services_talk),
		cmocka_unit_test(what_is_said_of_a_band),
		cmocka_unit_test(all_or_nothing),
		cmocka_unit_test(deaf_is_not_quiet),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
