#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tools/plan/forecast.h"
#include "tools/plan/scan.h"

static const struct band bands[] = {
	{ "fire", "Fire", "fire", { FREQ_KHZ(154000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "works", "Works", "works", { FREQ_KHZ(155000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
};

static void set_up_scene(struct scene *s)
{
	scene_begin(s, bands, 2);
	scene_talk(s, 0, 3, 40, 300, KIND_NFM);
	scene_talk(s, 1, 7, 30, 250, KIND_NFM);
	scene_propose(s);
}

/* Of what is wanted, by weight: the share of its time on the air that is heard, all draws together. */
static double worth_of(const struct scene *s, const struct repertoire *on, uint64_t banks)
{
	int lines = s->census->channels + 1;
	struct part *line = calloc((size_t)(lines * on->draws), sizeof *line);
	struct forecast f;
	double got = 0, of = 0;

	assert_non_null(line);
	assert_int_equal(forecast_lines(s->plan, s->census, &s->receiver, on, banks, &f, line), 0);
	for (int k = 0; k < s->plan->memories; k++) {
		const struct memory *m = &s->plan->memory[k];
		double air_s = 0, heard_s = 0;
		if (!(banks >> (m->bank - 1) & 1) || (m->same_as.bank && banks >> (m->same_as.bank - 1) & 1))
			continue;
		for (int d = 0; d < on->draws; d++) {
			air_s += line[d * lines + m->channel].air_s;
			heard_s += line[d * lines + m->channel].heard_s;
		}
		got += m->weight * heard_s / air_s;
		of += m->weight;
	}
	free(line);
	return got / of;
}

/* The plan's own sets carry the figures that a forecast by hand gives. */
static void sets_are_foretold(void **state)
{
	struct scene s;
	struct repertoire on;
	struct forecast f;

	(void)state;
	set_up_scene(&s);
	assert_int_equal(repertoire_create(&on, s.census), 0);
	assert_true(s.plan->sets >= 2);
	for (int i = 0; i < s.plan->sets; i++) {
		const struct bankset *b = &s.plan->set[i];
		assert_int_equal(forecast(s.plan, s.census, &s.receiver, &on, b->banks, &f), 0);
		assert_true(b->overs > 0 && b->heard > 0.5 && b->heard <= 1 && b->met >= b->heard - 0.1);
		assert_true(fabs(b->heard - (double)f.all.heard / f.all.overs) < 1e-12);
		assert_true(b->held > 0 && b->held < 1);
		assert_true(b->worth > 0.5 && b->worth <= b->bound && b->bound <= 1);
		assert_true(fabs(b->worth - worth_of(&s, &on, b->banks)) < 1e-9);
		assert_true(fabs(b->late_s - f.all.late_s / f.all.heard) < 1e-9);
		assert_true(fabs(b->held - f.all.held_s / f.seconds) < 1e-9);
		assert_true(b->banks & 1 ? b->urgent > 0 : b->urgent == -1);
	}
	repertoire_free(&on);
	scene_end(&s);
}

/* Many seats where nothing was heard make the round longer, as reckoned: looks an over of mean
 * length L meets every C seconds. Locked ones are not looked at. */
static void silent_seats_cost_time(void **state)
{
	struct scene s;
	struct repertoire on;
	struct forecast alone, among;
	struct memory memory[251];
	struct plan p = { .memory = memory, .memories = 251 };

	(void)state;
	set_up_scene(&s);
	assert_int_equal(repertoire_create(&on, s.census), 0);
	for (int i = 0; i < 251; i++)
		memory[i] = (struct memory){ .bank = 1, .channel = i ? -1 : 0, .weight = 5, .locked = i > 0 };
	assert_int_equal(forecast(&p, s.census, &s.receiver, &on, 1, &alone), 0);
	for (int i = 0; i < 251; i++)
		memory[i].locked = false;
	assert_int_equal(forecast(&p, s.census, &s.receiver, &on, 1, &among), 0);
	double share = (double)among.all.heard / among.all.overs;
	double over_s = among.all.air_s / among.all.overs;
	assert_true((double)alone.all.heard / alone.all.overs > 0.99);
	/* Lengths here are between fixed and exponential. */
	double most = fmin(1, over_s / 10.04), least = scan_catch(over_s, 10.04);
	if (share < least - 0.1 || share > most + 0.1)
		fail_msg("%.3f heard, %.3f to %.3f reckoned, overs of %.1f s", share, least, most, over_s);
	repertoire_free(&on);
	scene_end(&s);
}

/* Two seats of one channel: its overs count once, and more of them are heard. */
static void a_double_counts_once(void **state)
{
	struct scene s;
	struct repertoire on;
	struct forecast one, two;
	struct memory memory[202];
	struct plan p = { .memory = memory, .memories = 201 };

	(void)state;
	set_up_scene(&s);
	assert_int_equal(repertoire_create(&on, s.census), 0);
	for (int i = 0; i < 202; i++)
		memory[i] = (struct memory){ .bank = 2, .channel = i == 0 || i == 201 ? 0 : -1, .weight = 5 };
	memory[201] = memory[100];
	memory[100].channel = 0;
	p.memories = 202;
	assert_int_equal(forecast(&p, s.census, &s.receiver, &on, 2, &two), 0);
	memory[100].channel = -1;
	assert_int_equal(forecast(&p, s.census, &s.receiver, &on, 2, &one), 0);
	assert_int_equal(one.all.overs, two.all.overs);
	assert_true(two.all.heard > one.all.heard);
	assert_int_equal(forecast(&p, s.census, &s.receiver, &on, 1, &one), -1);        /* an empty bank */
	repertoire_free(&on);
	scene_end(&s);
}

/* Share of overs heard, by the weight of the seats, the mean of draws and their deviation. */
static void value_is_by_weight(void **state)
{
	struct scene s;
	struct repertoire on;
	struct forecast f;
	struct memory memory[3] = { { .bank = 1, .channel = 1, .weight = 9 }, { .bank = 1, .channel = 0, .weight = 2 },
				    { .bank = 1, .channel = -1, .weight = 50 } };
	const struct plan p = { .memory = memory, .memories = 3 };
	double sum = 0, squares = 0;

	(void)state;
	set_up_scene(&s);
	s.receiver.scan_rate = 0.4;             /* so slow that either is missed now and then */
	assert_int_equal(repertoire_create(&on, s.census), 0);
	struct part *line = calloc((size_t)(3 * on.draws), sizeof *line);
	assert_non_null(line);
	assert_int_equal(forecast_lines(&p, s.census, &s.receiver, &on, 1, &f, line), 0);
	for (int d = 0; d < on.draws; d++) {
		const struct part *of = &line[3 * d];
		double value = (9.0 * of[1].heard / of[1].overs + 2.0 * of[0].heard / of[0].overs) / 11;
		assert_true(of[0].heard < of[0].overs && of[1].heard < of[1].overs);
		sum += value / on.draws;
		squares += value * value / on.draws;
	}
	assert_true(fabs(f.value - sum) < 1e-9 && fabs(f.value_sd - sqrt(squares - sum * sum)) < 1e-6);
	free(line);
	repertoire_free(&on);
	scene_end(&s);
}

/* Of a survey of more than a day every draw is of a night in which something was heard. */
static void silent_nights_are_not_rehearsed(void **state)
{
	struct scene s;
	struct repertoire on;

	(void)state;
	scene_begin(&s, bands, 2);
	scene_talk(&s, 0, 3, 40, 300, KIND_NFM);
	scene_quiet_night(&s);
	scene_propose(&s);
	assert_true(s.census->end_us - s.census->start_us == 28 * HOUR_US);
	assert_int_equal(repertoire_create(&on, s.census), 0);
	assert_int_equal(on.draws, FORECAST_DRAWS);
	for (int d = 0; d < on.draws; d++)
		assert_true(fabs(on.draw[d].seconds - 4 * 3600) < 1 && on.draw[d].cues > 0);
	repertoire_free(&on);
	scene_end(&s);
}

/* When receivers were at work, in hours, whether anything was heard at the end of each, and what the draws are of:
 * all of a survey of up to a day, rests and all, else one spell after the other. */
static void a_draw_is_of(void **state)
{
	enum { SPELLS = 3 };
	static const struct {
		const char *why;
		double      from_h[SPELLS], to_h[SPELLS];
		bool        heard[SPELLS];
		double      want_h[FORECAST_DRAWS];
	} rows[] = {
		{ "a night with a rest", { 0, 6 }, { 4, 9 }, { true, true }, { 9, 9, 9, 9, 9, 9, 9, 9 } },
		{ "one of three nights was silent", { 0, 24, 48 }, { 4, 29, 54 }, { true, false, true },
		  { 4, 4, 4, 4, 6, 6, 6, 6 } },
		{ "in silence there is none to choose", { 0, 24 }, { 4, 29 }, { false },
		  { 29, 29, 29, 29, 29, 29, 29, 29 } },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct over over[SPELLS];
		struct looked l = { .revisit_s = 2, .beat = { .every_s = 2, .looks = 1 } };
		struct channel ch = { .occupancy = 0.01 };
		struct census c = { .looked = &l, .bands = 1, .channel = &ch, .channels = 1, .over = over,
				    .start_us = NIGHT_US };
		struct repertoire on;
		for (int k = 0; k < SPELLS && rows[i].to_h[k] > 0; k++) {
			int64_t from_us = NIGHT_US + (int64_t)(rows[i].from_h[k] * (double)HOUR_US);
			c.end_us = NIGHT_US + (int64_t)(rows[i].to_h[k] * (double)HOUR_US);
			assert_int_equal(stints_run(&c.stints, k + 1, from_us, c.end_us), 0);
			if (rows[i].heard[k])
				over[ch.overs++] = (struct over){ .first_us = c.end_us - 60000000,
								  .last_us = c.end_us - 50000000, .before_us = 2000000,
								  .after_us = 2000000, .looks = 6 };
		}
		c.overs = ch.overs;
		assert_int_equal(repertoire_create(&on, &c), 0);
		assert_int_equal(on.draws, FORECAST_DRAWS);
		for (int d = 0; d < on.draws; d++)
			if (!(fabs(on.draw[d].seconds / 3600 - rows[i].want_h[d]) < 1e-6))
				fail_msg("%s: draw %d has %.2f h", rows[i].why, d, on.draw[d].seconds / 3600);
		repertoire_free(&on);
		stints_free(&c.stints);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sets_are_foretold),
		cmocka_unit_test(silent_seats_cost_time),
		cmocka_unit_test(a_double_counts_once),
		cmocka_unit_test(value_is_by_weight),
		cmocka_unit_test(silent_nights_are_not_rehearsed),
		cmocka_unit_test(a_draw_is_of),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
