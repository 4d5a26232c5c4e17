/* What is counted of a channel's overs, by hand: exchanges, hours, stuck keys, and what is asked of a fit. */
#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tools/plan/census.h"
#include "tools/plan/hold.h"

#define MOST 200
#define S    INT64_C(1000000)
#define H    (3600 * S)

struct world {
	struct over    over[MOST];
	int            n;
	struct watched watched;
};

/* Ends lie within 0.1 s. */
static struct over *add(struct world *w, double at_s, double length_s, enum kind kind)
{
	struct over *o = &w->over[w->n++];

	assert_true(w->n <= MOST);
	*o = (struct over){ .first_us = (int64_t)(1e6 * at_s), .last_us = (int64_t)(1e6 * (at_s + length_s)),
			    .before_us = S / 10, .after_us = S / 10, .busy_us = 20000, .looks = 2, .kind = kind };
	return o;
}

static struct traffic measured(const struct world *w)
{
	struct traffic t;

	assert_int_equal(traffic_measure(w->over, w->n, &w->watched, &t), 0);
	return t;
}

/* Exchanges end with 8 s of silence, as far as the ends are known. Their rate: Poisson, by the square root's
 * deviation of a half (Anscombe 1948): (sqrt(n + 3/8) -+ 0.98) squared. */
static void exchanges_are_counted(void **state)
{
	struct world w = { .watched = { 0.01, 2 * 3600, 2.5, 0x3 } };

	(void)state;
	add(&w, 100, 5, KIND_NFM);
	add(&w, 113.1, 5, KIND_NFM);            /* 8.1 s later, of which 0.2 s are not known */
	add(&w, 126.4, 5, KIND_NFM);            /* 8.3 s: afresh */
	add(&w, 24 * 3600 + 3700, 5, KIND_NFM);         /* UTC hours of any day */
	struct traffic t = measured(&w);
	assert_int_equal(t.exchanges, 3);
	assert_true(fabs(t.overs_exchange - 4.0 / 3) < 1e-9);
	assert_int_equal(t.hours, 3);
	assert_int_equal(t.watched, 4);
	assert_true(fabs(t.longest_s - 5) < 1e-9);
	assert_true(fabs(t.exchanges_h.value - 1.5) < 1e-9);
	assert_true(fabs(t.exchanges_h.likely.low - pow(sqrt(3.375) - 0.98, 2) / 2) < 1e-9);
	assert_true(fabs(t.exchanges_h.likely.high - pow(sqrt(3.375) + 0.98, 2) / 2) < 1e-9);
	w.over[0].before_us = w.over[0].after_us = 2 * S;
	assert_int_equal(measured(&w).watched, 3);
	w.watched.wall_s = 0;                   /* how long the survey lasted is not known */
	assert_true(measured(&w).exchanges_h.value == 0);
	w.n = 0;
	t = measured(&w);
	assert_true(t.exchanges == 0 && t.overs_exchange == 0);
}

/* An hour is busy from 1.5 times the mean, and two deviations of it more; hours that were looked at count. */
static void busy_hours(void **state)
{
	static const struct { const char *why; int in_2, in_5; uint32_t looked, busy; } by[] = {
		{ "alike", 10, 10, 0x24, 0 },
		{ "hours of silence make it busy", 20, 0, 0xf, 1u << 2 },
		{ "though nobody spoke of them", 20, 0, 0, 0 },
		{ "three times as much", 30, 10, 0x24, 1u << 2 },
		{ "few may be so by chance", 6, 2, 0x24, 0 },
		{ "1.4 times the mean are not enough", 70, 30, 0x24, 0 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w = { .watched = { 0.01, 12 * 3600, 2.5, by[i].looked } };
		for (int k = 0; k < by[i].in_2; k++)
			add(&w, 2 * 3600 + 40 * k, 5, KIND_NFM);
		for (int k = 0; k < by[i].in_5; k++)
			add(&w, 5 * 3600 + 40 * k, 5, KIND_NFM);
		struct traffic t = measured(&w);
		if (t.busy_hours != by[i].busy)
			fail_msg("%s: %x", by[i].why, t.busy_hours);
	}
}

/* Ten times the usual and over 200 s of a bare carrier, or 600 s of anything, is a stuck key. */
static void stuck_keys(void **state)
{
	static const struct { const char *why; double usual_s, long_s; enum kind kind; bool stuck; } by[] = {
		{ "200 s of a carrier", 5, 200, KIND_CARRIER, false },
		{ "201 s", 5, 201, KIND_CARRIER, true },
		{ "of what is not known", 5, 201, KIND_UNKNOWN, true },
		{ "of speech: a long talk", 5, 201, KIND_NFM, false },
		{ "600 s of speech", 5, 600, KIND_NFM, false },
		{ "601 s", 5, 601, KIND_NFM, true },
		{ "ten times the usual of a carrier", 40, 400, KIND_CARRIER, false },
		{ "more than that", 40, 401, KIND_CARRIER, true },
		{ "ten times the usual of speech", 70, 700, KIND_NFM, false },
		{ "more than that of speech", 70, 701, KIND_NFM, true },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w = { .watched = { 0.05, 12 * 3600, 2.5, 0 } };
		for (int k = 0; k < 10; k++)
			add(&w, 100 + 300 * k, by[i].usual_s, by[i].kind);
		add(&w, 8000, by[i].long_s, by[i].kind);
		struct traffic t = measured(&w);
		if (t.stuck_s != (by[i].stuck ? by[i].long_s : 0) || t.exchanges != (by[i].stuck ? 10 : 11) ||
		    t.longest_s != by[i].long_s)
			fail_msg("%s: stuck %g s, %d exchanges", by[i].why, t.stuck_s, t.exchanges);
	}
	/* Of two overs nothing is usual. */
	struct world w = { .watched = { 0.05, 12 * 3600, 2.5, 0 } };
	add(&w, 100, 5, KIND_CARRIER);
	add(&w, 8000, 3000, KIND_CARRIER);
	assert_true(measured(&w).stuck_s == 0);
}

/* Exchanges of four overs of four seconds, as sweeps meet them each 2.4 s; for a fit. */
static void swept(struct world *w, int exchanges, int64_t before_us)
{
	for (int e = 0; e < exchanges; e++)
		for (int k = 0; k < 4; k++) {
			struct over *o = add(w, 97 * e + 7.2 * k, 2.4 + 2.4 * (k % 2), KIND_NFM);
			o->before_us = o->after_us = before_us;
		}
}

static bool same(const struct traffic *a, const struct traffic *b)
{
	return memcmp(&a->over_s, &b->over_s, sizeof a->over_s) == 0 && memcmp(&a->gap_s, &b->gap_s, sizeof a->gap_s) == 0;
}

/* How often looks come is told by the edges that were not seen, where nobody says it; from 0.2 s to a minute. */
static void how_often_looks_come(void **state)
{
	static const struct { double told_s, before_s, as_s; } by[] = {
		{ 0, 2.4, 2.4 },        /* three in ten lie no farther out */
		{ 0, 0.05, 2.5 },       /* all seen: as is usual           */
		{ 0.1, 2.4, 0.2 },
		{ 100, 2.4, 60 },
		{ 0, 100, 60 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w = { .watched = { 0.05, 3 * 3600, by[i].told_s, 0 } };
		swept(&w, 10, (int64_t)(1e6 * by[i].before_s));
		struct traffic t = measured(&w);
		w.watched.revisit_s = by[i].as_s;
		struct traffic like = measured(&w);
		assert_true(t.over_s.value > 0 || by[i].as_s > 10);
		if (!same(&t, &like))
			fail_msg("told %g s, edges %g s: overs %g s, not %g s", by[i].told_s, by[i].before_s, t.over_s.value,
				 like.over_s.value);
	}
}

/* Fewer than three overs tell no length, fewer than five no shape; what is always on has neither. */
static void what_is_asked_of_a_fit(void **state)
{
	(void)state;
	for (int n = 2; n <= 5; n++) {
		struct world w = { .watched = { 0.01, 3 * 3600, 2.4, 0 } };
		swept(&w, 2, 2400000);
		w.n = n;
		struct traffic t = measured(&w);
		assert_int_equal(t.guessed.over_s.value > 0, n >= 3);
		assert_true(t.shape == SHAPE_UNKNOWN || n == 5);
	}
	struct world w = { .watched = { 0.05, 3 * 3600, 2.4, 0 } };
	swept(&w, 12, 2400000);
	struct traffic t = measured(&w);
	assert_int_equal(t.shape, SHAPE_TALK);
	/* 85 % of exponential gaps after the hang of half a second. */
	assert_true(t.gap_s.value > 0.5 && fabs(t.gap_most_s - (0.5 + (t.gap_s.value - 0.5) * 1.8971)) < 1e-3);
	w.watched.occupancy = 0.9;
	assert_int_equal(measured(&w).shape, SHAPE_TALK);
	w.watched.occupancy = 0.91;
	add(&w, 5000, 2000, KIND_CARRIER);
	t = measured(&w);
	assert_true(t.shape == SHAPE_ALWAYS && t.over_s.value == 0 && t.stuck_s == 0 && t.gap_most_s == 0);
}

/* Ten overs, so many of them met by one look, of which it was on in all or in part: bursts, from a sixth of those on. */
static void bursts_fill_part_of_a_look(void **state)
{
	enum { OVERS = 10 };
	static const struct { const char *why; int single, cut; int64_t part_us; bool bursts; } by[] = {
		{ "two of ten are cut short", 10, 2, 17000, true },
		{ "one is not enough", 10, 1, 17000, false },
		{ "nor are two by little", 10, 2, 18500, false },
		{ "two of six", 6, 2, 5000, true },
		{ "half are met by several looks", 5, 2, 5000, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct world w = { .watched = { 0.01, 12 * 3600, 2.5, 0 } };
		for (int k = 0; k < OVERS; k++) {
			bool one = k < by[i].single;
			struct over *o = add(&w, 100 * pow(1.5, k), one ? 0 : 5, KIND_DATA);      /* at no period */
			o->looks = one ? 1 : 3;
			o->busy_us = one && k > 0 && k <= by[i].cut ? by[i].part_us : 20000;
		}
		struct traffic t = measured(&w);
		if ((t.shape == SHAPE_BURSTS) != by[i].bursts || (by[i].bursts && t.over_s.value > 0))
			fail_msg("%s: shape %d, overs %g s", by[i].why, (int)t.shape, t.over_s.value);
	}
}

/* What is sure of lengths and gaps stands in the channel's own figures, and what it holds a scan for with them. */
static void channels_have_what_is_sure(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, &world_band[WORLD_FIRE], 1);
	for (int e = 0; e < 20; e++)
		for (int k = 0; k < 4; k++)
			scene_add(&s, (struct world_over){ 0, 100, 60 + 400 * e + 9 * k, 5 + k % 2, 250, 0, 9000, KIND_NFM, 0 });
	scene_propose(&s);
	struct channel *ch = &s.census->channel[0];
	s.census->looked[0].beat = (struct beat){ .every_s = 1, .rest_s = 100, .looks = 3 };
	s.census->looked[0].revisit_s = 20;
	assert_int_equal(census_traffic(s.census), 0);
	assert_true(ch->traffic.over_s.value > 0 && ch->traffic.gap_most_s > 0);
	assert_true(ch->over_s == ch->traffic.over_s.value && ch->gap_s == ch->traffic.gap_most_s);
	assert_true(ch->hold_share > 0 && fabs(ch->hold_share - hold_of(s.census, ch)) < 1e-12);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(exchanges_are_counted),
		cmocka_unit_test(busy_hours),
		cmocka_unit_test(stuck_keys),
		cmocka_unit_test(how_often_looks_come),
		cmocka_unit_test(what_is_asked_of_a_fit),
		cmocka_unit_test(bursts_fill_part_of_a_look),
		cmocka_unit_test(channels_have_what_is_sure),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
