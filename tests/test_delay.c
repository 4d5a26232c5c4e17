/* Delays rehearsed: one memory whose delay is open beside one that talks at the same times. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tools/plan/delay.h"
#include "tools/plan/merit.h"

static const struct band bands[] = {
	{ "fire", "Fire", "fire", { FREQ_KHZ(154000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "works", "Works", "works", { FREQ_KHZ(156000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
};

enum { FIRE = 0, WORKS };       /* channels of the census, and memories of bank 1 */

struct stage_of {
	struct scene      s;
	struct repertoire on;
	struct matter     m;
};

/* Exchanges of two overs with so long a pause, so often; delays of 0.7, 1, 2, 4 and 8 s can be set. */
static void talk(struct scene *s, int band, int channel, double every_s, double over_s, double pause_s)
{
	for (int e = 0; 100 + every_s * (e + 1) < 14000; e++)
		for (int k = 0; k < 2; k++)
			scene_add(s, (struct world_over){ band, channel, 100 + 40 * band + every_s * e + k * (over_s + pause_s),
				over_s, 300, 0, 9000, KIND_NFM, 0 });
}

static void begin(struct stage_of *g, double pause_s)
{
	static const int64_t choices[] = { 700000, 1000000, 2000000, 4000000, 8000000 };
	struct scene *s = &g->s;

	scene_begin(s, bands, 2);
	s->receiver.banks = 1;
	s->receiver.delays = 5;
	memcpy(s->receiver.delay_us, choices, sizeof choices);
	talk(s, FIRE, 3, 31, 3, pause_s);
	talk(s, WORKS, 7, 23.7, 5, pause_s);
	scene_propose(s);
	assert_int_equal(s->plan->memories, 2);
	assert_int_equal(repertoire_create(&g->on, s->census), 0);
	for (int i = 0; i < 2; i++) {
		assert_int_equal(s->plan->memory[i].channel, i);
		s->plan->memory[i].delay_why[0] = '\0';
		s->plan->memory[i].locked = false;      /* though it talks so much beside fire */
	}
	g->m = (struct matter){ s->census, s->suspect, &s->receiver, &s->interests, NULL };
}

static void end(struct stage_of *g)
{
	repertoire_free(&g->on);
	scene_end(&g->s);
}

/* The channel's pauses were measured so long in the mean (0: not at all), and its memory has that delay. */
static void set(struct stage_of *g, int which, double gap_s, double delay_s)
{
	g->s.census->channel[which].traffic.gap_s.value = gap_s;
	g->s.census->channel[which].gap_s = 0;
	g->s.plan->memory[which].delay_us = llround(1e6 * delay_s);
}

static double choose(struct stage_of *g, int which)
{
	assert_int_equal(delays_choose(&g->m, &g->on, g->s.plan), 0);
	return 1e-6 * (double)g->s.plan->memory[which].delay_us;
}

/* Pauses are over by 2 s: 1 - exp(-1.5 / (mean - 0.5)). */
static const struct {
	const char *why;
	double      pause_s;            /* as they are on the air                    */
	int         which;
	double      gap_s, delay_s;     /* mean, as measured; the delay it has       */
	double      want_s;
} rows[] = {
	/* The works' long delay keeps the receiver from the fire brigade, ten to four. */
	{ "a shorter one lets more be heard", 1.5, WORKS, 1.6, 4, 2 },
	{ "but covers 63 % of pauses", 1.5, WORKS, 2.0, 4, 4 },
	{ "71 % will do", 1.5, WORKS, 1.7, 4, 2 },
	{ "one step at a time", 1.5, WORKS, 1.0, 8, 4 },
	{ "not measured: never a shorter one", 1.5, WORKS, 0, 2, 2 },
	{ "the shortest covers 86 %", 1.5, WORKS, 0.6, 1, 0.7 },
	{ "there is no shorter one", 1.5, WORKS, 0.6, 0.7, 0.7 },
	{ "one that the receiver does not have stays", 1.5, WORKS, 1.6, 3, 3 },
	/* The works talk into the fire brigade's pauses. */
	{ "a longer one leaves no answer", 3, FIRE, 1.2, 2, 4 },
	{ "though it covers 95 % of pauses", 3, FIRE, 0.9, 2, 2 },
	{ "not measured: a longer one as well", 3, FIRE, 0, 2, 4 },
	{ "up to 4 s", 5, FIRE, 0, 4, 4 },
	{ "measured, up to the receiver's longest", 5, FIRE, 3.5, 4, 8 },
};

static void rehearsed_choices(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct stage_of g = { 0 };
		begin(&g, rows[i].pause_s);
		g.s.plan->memory[!rows[i].which].fixed = true;
		set(&g, !rows[i].which, 0, 2);
		set(&g, rows[i].which, rows[i].gap_s, rows[i].delay_s);
		double got = choose(&g, rows[i].which);
		const char *why = g.s.plan->memory[rows[i].which].delay_why;
		if (fabs(got - rows[i].want_s) > 1e-9 || !why[0] != (rows[i].want_s == rows[i].delay_s))
			fail_msg("%s: %g s (%s)", rows[i].why, got, why);
		end(&g);
	}
}

/* What is locked, pinned, silent or a second seat itself is not looked at; the seats of one memory have one delay. */
static void seats_that_are_left_alone(void **state)
{
	static const struct { bool locked, fixed; double want_s; } by[] = {
		{ false, false, 2 }, { true, false, 4 }, { false, true, 4 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct stage_of g = { 0 };
		struct memory seat[4];
		begin(&g, 1.5);
		set(&g, FIRE, 0, 2);
		set(&g, WORKS, 1.6, 4);
		g.s.plan->memory[FIRE].fixed = true;
		struct memory *own = g.s.plan->memory;
		seat[0] = own[FIRE];
		seat[1] = own[WORKS];
		seat[2] = own[WORKS];           /* in a bank that is in no set */
		seat[2].bank = 9;
		seat[2].same_as = (struct memory_place){ 1, own[WORKS].slot };
		seat[2].locked = by[i].locked;
		seat[2].fixed = by[i].fixed;
		seat[3] = own[WORKS];           /* of nothing that was heard */
		seat[3].channel = -1;
		g.s.plan->memory = seat;
		g.s.plan->memories = 4;
		assert_int_equal(delays_choose(&g.m, &g.on, g.s.plan), 0);
		assert_int_equal(seat[FIRE].delay_us, 2000000);
		assert_int_equal(seat[WORKS].delay_us, 2000000);
		assert_true(fabs(1e-6 * (double)seat[2].delay_us - by[i].want_s) < 1e-9);
		assert_int_equal(seat[3].delay_us, 4000000);
		g.s.plan->memory = own;
		g.s.plan->memories = 2;
		end(&g);
	}
}

/* What the set in use has is typed already, and stays where it fits. */
static void the_set_in_use_keeps_its_own(void **state)
{
	static const struct {
		const char *why;
		double      typed_s;
		bool        locked;
		double      now_s, want_s;
		const char *says;
	} by[] = {
		{ "it fits", 8, false, 4, 8, "as your set has it" },
		{ "it is what it would be", 4, false, 4, 4, "" },
		{ "too short", 1, false, 4, 2, "instead of 4 s" },
		{ "no delay that can be set", 3, false, 4, 2, "instead of 4 s" },
		{ "of a locked one", 8, true, 4, 2, "instead of 4 s" },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct stage_of g = { 0 };
		struct fault why = { 0 };
		begin(&g, 1.5);
		struct scene *s = &g.s;
		set(&g, FIRE, 0, 2);
		set(&g, WORKS, 1.6, by[i].now_s);
		s->plan->memory[FIRE].fixed = true;
		scene_type(s, 1, 30, s->plan->memory[FIRE].landing.landed)->delay_s = 2;
		struct typed *t = scene_type(s, 1, 31, s->plan->memory[WORKS].landing.landed);
		t->locked = by[i].locked;
		if (former_create(&s->typed, "typed", s->census, &s->receiver, &s->former, &why) < 0)
			fail_msg("%s", why.text);
		/* A list with a delay that can't be set would be refused. */
		for (int k = 0; k < s->former.set->memories; k++)
			if (s->former.set->memory[k].slot == 31)
				s->former.set->memory[k].delay_us = llround(1e6 * by[i].typed_s);
		g.m.former = &s->former;
		double got = choose(&g, WORKS);
		const char *told = s->plan->memory[WORKS].delay_why;
		if (fabs(got - by[i].want_s) > 1e-9 || !strstr(told, by[i].says) || !told[0] != !by[i].says[0])
			fail_msg("%s: %g s (%s)", by[i].why, got, told);
		end(&g);
	}
}

/* Told as it is: what the last one changed is worth more than without it, by so many points. */
static void gains_are_told_as_they_are(void **state)
{
	struct stage_of g = { 0 };
	struct merit v;
	double told, was;

	(void)state;
	begin(&g, 1.5);
	set(&g, FIRE, 1.6, 4);
	set(&g, WORKS, 1.6, 4);
	assert_int_equal(delays_choose(&g.m, &g.on, g.s.plan), 0);
	struct memory *e = &g.s.plan->memory[WORKS];
	assert_int_equal(e->delay_us, 2000000);
	assert_int_equal(sscanf(e->delay_why, "instead of %lf s, for rehearsed it lets %lf points", &was, &told), 2);
	assert_true(was == 4);
	assert_int_equal(merit_create(&v, g.s.plan, g.s.census, &g.s.receiver, &g.on), 0);
	double gain = 0;
	int n = 0;
	for (int set = v.sets - 1; set >= 0 && n < 2; set--, n++)
		gain += merit_set(&v, g.s.plan, set);
	e->delay_us = 4000000;
	for (int set = v.sets - 1, k = 0; k < n; set--, k++)
		gain -= merit_set(&v, g.s.plan, set);
	print_message("%d sets, told %.1f points, found %.3f\n", n, told, 100 * gain / n);
	assert_true(fabs(told - 100 * gain / n) <= 0.05 + 1e-9);
	assert_true(told >= 100 * DELAY_GAIN);
	merit_free(&v);
	end(&g);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(rehearsed_choices),
		cmocka_unit_test(seats_that_are_left_alone),
		cmocka_unit_test(the_set_in_use_keeps_its_own),
		cmocka_unit_test(gains_are_told_as_they_are),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
