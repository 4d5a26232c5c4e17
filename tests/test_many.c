#include "tests/test.h"

#include <inttypes.h>
#include <math.h>

#include "tests/census_world.h"
#include "tools/plan/stints.h"

/* Several runs in one survey: when they lasted, what both heard, and the hours of the week. */

/* ---- when ---- */

static void time_at_work(void **state)
{
	static const struct {
		const char *why;
		struct { int64_t run, from, to; bool hours; } given[4];
		int64_t wall, from, to;
	} cases[] = {
		{ "nothing", { { 0 } }, 0, 0, 0 },
		{ "a night", { { 1, 10, 20, false } }, 10, 10, 20 },
		{ "two nights", { { 1, 10, 20, false }, { 2, 50, 65, false } }, 25, 10, 65 },
		{ "two dongles at a time count once", { { 1, 10, 20, false }, { 2, 15, 30, false } }, 20, 10, 30 },
		{ "one within the other", { { 2, 12, 15, false }, { 1, 10, 20, false } }, 10, 10, 20 },
		{ "one that did not end lasted as long as it looked",
		  { { 1, 10, 0, false }, { 1, 10, 14, true }, { 1, 14, 18, true } }, 8, 10, 18 },
		{ "one that ended knows better", { { 1, 11, 17, false }, { 1, 10, 20, true } }, 6, 11, 17 },
		{ "also when it is told later", { { 1, 10, 20, true }, { 1, 11, 17, false } }, 6, 11, 17 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct stints s = { 0 };
		int64_t from, to;
		for (int k = 0; k < 4; k++)
			if (cases[i].given[k].run)
				assert_int_equal((cases[i].given[k].hours ? stints_looked : stints_run)(
					&s, cases[i].given[k].run, cases[i].given[k].from,
					cases[i].given[k].to), 0);
		int64_t wall = stints_wall(&s, &from, &to);
		if (wall != cases[i].wall || from != cases[i].from || to != cases[i].to)
			fail_msg("%s: %" PRId64 " from %" PRId64 " to %" PRId64, cases[i].why, wall,
				 from, to);
		stints_free(&s);
	}
}

static void spells_of_work(void **state)
{
	struct stints s = { 0 };
	const int64_t h = HOUR_US;
	/* Two that overlap, one half an hour after them; a day later three days at a stretch. */
	static const struct { int from, to; } want[] = { { 0, 20 }, { 44, 68 }, { 68, 92 }, { 92, 114 } };
	int64_t from, to;

	(void)state;
	assert_int_equal(stints_spells(&s, 24 * h, 0, &from, &to), 0);
	assert_int_equal(stints_run(&s, 1, 44 * h, 114 * h), 0);
	assert_int_equal(stints_run(&s, 2, 1, 9 * h), 0);
	assert_int_equal(stints_run(&s, 3, 5 * h, 12 * h), 0);
	assert_int_equal(stints_run(&s, 4, 12 * h + h / 2, 20 * h), 0);
	stints_wall(&s, &from, &to);
	for (int k = 0; k < 4; k++) {
		assert_int_equal(stints_spells(&s, 24 * h, k, &from, &to), 4);
		if (from / h != want[k].from || to / h != want[k].to)
			fail_msg("spell %d: from %d h to %d h", k, (int)(from / h), (int)(to / h));
	}
	stints_free(&s);
}

/* ---- what both heard ---- */

/* An over seen from .. to s by a run, whose ends may lie slack s further out. */
struct seen {
	int64_t run;
	double  from, to, slack;
	int     looks;
};

static void add_seen(struct night *n, const struct seen *s)
{
	struct world_over o = { WORLD_FIRE, 100, s->from, 1, 200 + s->looks, 0, 9000, KIND_NFM, 0 };
	struct transmission_row t = world_transmission(&o);
	struct activity_row a = world_activity(&o);

	t.run = a.run = s->run;
	t.last_us = t.first_us + (int64_t)((s->to - s->from) * 1e6);
	t.before_us = t.after_us = (int64_t)(s->slack * 1e6);
	t.looks = s->looks;
	assert_int_equal(tally_transmission(n->tally, &t), 0);
	assert_int_equal(tally_activity(n->tally, &a), 0);
}

static void an_over_that_two_heard_is_one(void **state)
{
	static const struct {
		const char *why;
		struct seen seen[5];
		int         overs;
		double      from, to, before, after;    /* of the first */
		int64_t     looks;
	} cases[] = {
		{ "both saw it",
		  { { 1, 10, 16, 2, 4 }, { 2, 11, 17, 2, 5 } }, 1, 10, 17, 1, 1, 9 },
		{ "they saw it in turn, and its ends may meet",
		  { { 1, 10, 10.02, 2, 1 }, { 2, 11, 11.02, 2, 1 } }, 1, 10, 11.02, 1, 1, 2 },
		{ "too far apart to be one",
		  { { 1, 10, 11, 2, 1 }, { 2, 15.5, 16, 2, 1 } }, 2, 10, 11, 2, 2, 1 },
		{ "one receiver told two apart",
		  { { 1, 10, 12, 2, 2 }, { 1, 13, 15, 2, 2 } }, 2, 10, 12, 2, 2, 2 },
		{ "two overs, both heard by both",
		  { { 1, 10, 12, 1, 2 }, { 2, 10.5, 12.5, 1, 2 }, { 1, 15, 17, 1, 2 }, { 2, 15.5, 17.5, 1, 2 } },
		  2, 10, 12.5, 0.5, 0.5, 4 },
		{ "the third belongs to the one it is longest on with",
		  { { 1, 10, 12, 1, 2 }, { 1, 14, 20, 1, 2 }, { 2, 14.5, 19, 2, 2 } }, 2, 10, 12, 1, 1, 2 },
		{ "three receivers",
		  { { 1, 10, 16, 1, 3 }, { 2, 10.2, 16, 1, 4 }, { 3, 10.4, 16, 1, 5 } }, 1, 10, 16, 0.6, 1, 12 },
		{ "seen sample by sample by the second",
		  { { 1, 10, 12, 2, 2 }, { 2, 9, 12.5, 0, 90 } }, 1, 9, 12.5, 0, 0, 92 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct night n;
		night_begin(&n, 60, 1);
		for (int k = 0; k < 5; k++)
			if (cases[i].seen[k].run)
				add_seen(&n, &cases[i].seen[k]);
		struct census *c = night_end(&n);
		const struct channel *ch = channel_at(c, WORLD_FIRE, 100);
		assert_non_null(ch);
		const struct over *o = &c->over[ch->over];
		if (ch->overs != cases[i].overs || c->overs != cases[i].overs ||
		    fabs(1e-6 * (double)(o->first_us - NIGHT_US) - cases[i].from) > 1e-6 ||
		    fabs(1e-6 * (double)(o->last_us - NIGHT_US) - cases[i].to) > 1e-6 ||
		    fabs(1e-6 * (double)o->before_us - cases[i].before) > 1e-6 ||
		    fabs(1e-6 * (double)o->after_us - cases[i].after) > 1e-6 || o->looks != cases[i].looks)
			fail_msg("%s: %d overs, the first from %.2f to %.2f, -%.2f +%.2f, %d looks",
				 cases[i].why, ch->overs, 1e-6 * (double)(o->first_us - NIGHT_US),
				 1e-6 * (double)(o->last_us - NIGHT_US), 1e-6 * (double)o->before_us,
				 1e-6 * (double)o->after_us, (int)o->looks);
		census_destroy(c);
	}
}

/* What two looked adds up, and so does what was busy: the share stays. */
static void looks_of_two_add_up(void **state)
{
	struct night one, two;
	struct run_row again = night_run(4);

	(void)state;
	night_begin(&one, 60, 4);
	night_begin(&two, 60, 4);
	again.id = 2;
	assert_int_equal(tally_run(two.tally, &again), 0);
	for (int h = 0; h < 4; h++) {
		struct coverage_row c = world_coverage(WORLD_FIRE, h);
		c.run = 2;
		assert_int_equal(tally_coverage(two.tally, &c), 0);
	}
	for (int k = 0; k < 20; k++) {
		struct seen s = { 1, 30 + 600 * k, 36 + 600 * k, 1, 6 };
		add_seen(&one, &s);
		add_seen(&two, &s);
		s.run = 2;
		add_seen(&two, &s);
	}
	struct census *a = night_end(&one), *b = night_end(&two);
	const struct channel *x = channel_at(a, WORLD_FIRE, 100), *y = channel_at(b, WORLD_FIRE, 100);
	assert_int_equal(y->overs, x->overs);
	assert_int_equal(y->looked_us, 2 * x->looked_us);
	assert_true(fabs(y->occupancy - x->occupancy) < 1e-9);
	/* The same traffic was heard, better but not twice: the interval is no narrower. */
	assert_true(y->likely.high - y->likely.low > 0.95 * (x->likely.high - x->likely.low));
	assert_true(b->wall_us == a->wall_us);
	assert_true(fabs(b->looked[WORLD_FIRE].revisit_s - a->looked[WORLD_FIRE].revisit_s / 2) < 0.01);
	census_destroy(a);
	census_destroy(b);
}

/* ---- hours of the week ---- */

static void hours_of_the_week(void **state)
{
	/* 2026-01-01 is a Thursday, 1969-12-31 a Wednesday (Gregorian calendar). */
	static const struct { const char *why; int64_t us; int hour; } cases[] = {
		{ "1970 begins", 0, 3 * 24 },
		{ "just before", -1, 3 * 24 - 1 },
		{ "a Thursday's first hour", NIGHT_US, 3 * 24 },
		{ "its end", NIGHT_US + HOUR_US - 1, 3 * 24 },
		{ "Sunday's last hour", NIGHT_US + (4 * 24 - 1) * HOUR_US, 167 },
		{ "Monday", NIGHT_US + 4 * 24 * HOUR_US, 0 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
		if (week_hour(cases[i].us) != cases[i].hour)
			fail_msg("%s: hour %d", cases[i].why, week_hour(cases[i].us));
}

static int32_t half_past_five(int64_t us)
{
	(void)us;
	return 5 * 3600 + 1800;
}

static struct census *looked_at(int32_t (*ahead_s)(int64_t us), int more_hours)
{
	struct night n;
	struct world_over o = { WORLD_FIRE, 100, 2 * 3600 + 100, 10, 200, 0, 9000, KIND_NFM, 0 };

	n.tally = tally_create(world_band, WORLD_BANDS, 60);
	assert_non_null(n.tally);
	if (ahead_s)
		tally_zone(n.tally, ahead_s, "IST (UTC+05:30)");
	for (int h = 0; h < 4; h++) {
		struct coverage_row c = world_coverage(WORLD_FIRE, h);
		c.more_hours = more_hours;
		assert_int_equal(tally_coverage(n.tally, &c), 0);
	}
	/* Always on: it makes no hour one in which something is heard. */
	for (int h = 0; h < 4; h++)
		night_add(&n, (struct world_over){ WORLD_FIRE, 50, h * 3600, 3600, 300, 0, 9000, KIND_DATA, 0 });
	night_add(&n, o);
	return night_end(&n);
}

static void three_states(void **state)
{
	double busy;

	(void)state;
	struct census *c = looked_at(NULL, 0);
	const struct week *w = &c->week[WORLD_FIRE], *none = &c->week[WORLD_AIR];
	assert_string_equal(c->zone, "UTC");
	for (int h = 0; h < WEEK_HOURS; h++) {
		enum week_state want = h == 74 ? WEEK_HEARD : h >= 72 && h < 76 ? WEEK_QUIET : WEEK_NOT_LOOKED;
		if (week_state(&w->cell[h]) != want)
			fail_msg("hour %d is %d, not %d", h, week_state(&w->cell[h]), want);
		assert_int_equal(week_state(&none->cell[h]), WEEK_NOT_LOOKED);
	}
	assert_int_equal(week_hours_in(w, 3, WEEK_QUIET), 0xb);
	assert_int_equal(week_hours_in(w, -1, WEEK_QUIET), 0xf);
	assert_int_equal(week_hours_in(w, 3, WEEK_HEARD), 0x4);
	/* One channel of 277 is always on, another 10 s of the busy hour. */
	assert_int_equal(week_busy_hour(w, &busy), 2);
	assert_true(fabs(busy - (1 + 10 / 3600.0) / 277) < 1e-9);
	assert_int_equal(week_busy_hour(none, &busy), -1);
	assert_int_equal(week_work_hours(w), 0);
	census_destroy(c);
}

static void hours_are_those_of_the_place(void **state)
{
	(void)state;
	struct census *c = looked_at(half_past_five, 0);
	const struct week *w = &c->week[WORLD_FIRE];
	/* Thursday 00:00 UTC is 05:30: hour 5. */
	assert_int_equal(week_hours_in(w, 3, WEEK_HEARD), 1u << 7);
	assert_int_equal(week_hours_in(w, -1, WEEK_QUIET), 0xf << 5);
	assert_int_equal(week_work_hours(w), 1);        /* 08:30 */
	assert_string_equal(c->zone, "IST (UTC+05:30)");
	census_destroy(c);
	/* Kept by the day: which hours were looked at is not known. */
	c = looked_at(NULL, 23);
	assert_int_equal(week_hours_in(&c->week[WORLD_FIRE], -1, WEEK_QUIET) & ~0x4u, 0);
	census_destroy(c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(time_at_work),
		cmocka_unit_test(spells_of_work),
		cmocka_unit_test(an_over_that_two_heard_is_one),
		cmocka_unit_test(looks_of_two_add_up),
		cmocka_unit_test(hours_of_the_week),
		cmocka_unit_test(three_states),
		cmocka_unit_test(hours_are_those_of_the_place),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
