#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdbool.h>

#include "tests/census_world.h"
#include "tests/noise.h"
#include "tools/plan/compare.h"

/* ---- two surveys, put together exchange by exchange ---- */

/* Looks at the fire band from .. to these hours after NIGHT_US, each every_s. */
struct survey_of {
	struct tally *tally;
	double        every_s;
};

static struct survey_of begin(int from, int to, double every_s)
{
	struct survey_of s = { tally_create(world_band, WORLD_BANDS, 60), every_s };
	struct run_row run = world_run(to);

	assert_non_null(s.tally);
	tally_hourly(s.tally);
	run.start_us = NIGHT_US + from * HOUR_US;
	assert_int_equal(tally_run(s.tally, &run), 0);
	for (int h = from; h < to; h++) {
		struct coverage_row c = world_coverage(WORLD_FIRE, h);
		c.looks = (int64_t)(3600 / every_s);
		c.pairs = c.looks - 1;
		c.looked_us = c.looks * 20000;
		c.count = 200;          /* the rest of the band is not looked at */
		assert_int_equal(tally_coverage(s.tally, &c), 0);
	}
	return s;
}

/* n exchanges of one over of 5 s, evenly through these hours. */
static void talk(struct survey_of *s, int channel, int n, double from_h, double to_h, enum kind kind,
		 int32_t tone_ddhz)
{
	for (int i = 0; i < n; i++) {
		struct world_over o = { WORLD_FIRE, channel, 3600 * (from_h + (to_h - from_h) * (i + 0.5) / n), 5,
					250, 0, 9000, kind, tone_ddhz };
		struct transmission_row t = world_transmission(&o);
		struct activity_row a = world_activity(&o);
		int64_t looks = (int64_t)ceil(5 / s->every_s);
		t.before_us = t.after_us = (int64_t)(s->every_s * 0.5e6);
		a.busy_looks = a.level_looks[25] = looks;
		a.held = looks - 1;
		t.last_us = t.first_us + (int64_t)((double)(looks - 1) * s->every_s * 1e6) + 20000;
		/* Heard long enough to agree on its tone. */
		t.heard_ms = 4000;
		t.below = tone_ddhz ? BELOW_TONE : BELOW_NOTHING;
		assert_int_equal(tally_transmission(s->tally, &t), 0);
		assert_int_equal(tally_activity(s->tally, &a), 0);
	}
}

static struct census *end(struct survey_of *s)
{
	struct census *c = tally_finish(s->tally);

	assert_non_null(c);
	tally_destroy(s->tally);
	return c;
}

static int said(const struct comparison *c, int channel, enum change is)
{
	int n = 0;

	for (int i = 0; i < c->n; i++)
		n += c->of[i].is == is &&
		     c->of[i].centre.thirds == raster_centre(&world_band[WORLD_FIRE].raster, channel).thirds;
	return n;
}

static int all_said(const struct comparison *c, int channel)
{
	int n = 0;

	for (enum change is = CHANGE_NEW; is < CHANGE_COUNT; is++)
		n += said(c, channel, is);
	return n;
}

/* ---- what is said ---- */

static void changes(void **state)
{
	static const struct {
		const char *why;
		int         before, after;      /* exchanges in four hours */
		enum kind   was, now;
		int32_t     tone_was, tone_now;
		enum change is;
	} cases[] = {
		{ "as before", 20, 22, KIND_NFM, KIND_NFM, 0, 0, CHANGE_NONE },
		{ "new", 0, 25, KIND_NFM, KIND_NFM, 0, 0, CHANGE_NEW },
		{ "gone", 25, 0, KIND_NFM, KIND_NFM, 0, 0, CHANGE_GONE },
		{ "busier", 10, 60, KIND_NFM, KIND_NFM, 0, 0, CHANGE_BUSIER },
		{ "quieter", 60, 10, KIND_NFM, KIND_NFM, 0, 0, CHANGE_QUIETER },
		{ "a few more may be chance", 10, 16, KIND_NFM, KIND_NFM, 0, 0, CHANGE_NONE },
		{ "three and none may be chance", 3, 0, KIND_NFM, KIND_NFM, 0, 0, CHANGE_OPEN },
		{ "none and three too", 0, 3, KIND_NFM, KIND_NFM, 0, 0, CHANGE_OPEN },
		{ "voice became data", 20, 20, KIND_NFM, KIND_DATA, 0, 0, CHANGE_KIND },
		{ "another tone", 20, 20, KIND_NFM, KIND_NFM, 1000, 1622, CHANGE_TONE },
		{ "the same tone, measured anew", 20, 20, KIND_NFM, KIND_NFM, 1000, 1003, CHANGE_NONE },
	};
	enum { CASES = sizeof cases / sizeof cases[0] };
	struct survey_of a = begin(0, 4, 1), b = begin(0, 4, 1);
	struct comparison c;

	(void)state;
	for (int i = 0; i < CASES; i++) {
		talk(&a, 10 * i, cases[i].before, 0, 4, cases[i].was, cases[i].tone_was);
		talk(&b, 10 * i, cases[i].after, 0, 4, cases[i].now, cases[i].tone_now);
	}
	struct census *first = end(&a), *second = end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	assert_true(c.of_week && c.hours == 4 && c.tests == CASES);
	for (int i = 0; i < CASES; i++) {
		bool right = cases[i].is == CHANGE_NONE ? all_said(&c, 10 * i) == 0 :
			said(&c, 10 * i, cases[i].is) == 1 && all_said(&c, 10 * i) == 1;
		if (!right)
			fail_msg("%s: not \"%s\" alone", cases[i].why, change_name(cases[i].is));
	}
	/* Those of another kind or tone are alike in how often they were heard. */
	assert_int_equal(c.alike, 5);
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

/* scipy 1.10.1: binomtest(k2, k1 + k2).proportion_ci(0.95, 'exact'), as odds. */
static void how_many_times(void **state)
{
	static const struct { int before, after; double low, high; } cases[] = {
		{ 10, 40, 1.96574762, 8.96986733 },
		{ 0, 25, 6.28941758, INFINITY },
		{ 60, 12, 0.0979315481, 0.375590140 },
	};
	struct survey_of a = begin(0, 4, 1), b = begin(0, 4, 1);
	struct comparison c;

	(void)state;
	for (int i = 0; i < 3; i++) {
		talk(&a, 10 * i, cases[i].before, 0, 4, KIND_NFM, 0);
		talk(&b, 10 * i, cases[i].after, 0, 4, KIND_NFM, 0);
	}
	struct census *first = end(&a), *second = end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	assert_int_equal(c.n, 3);
	for (int i = 0; i < 3; i++)
		for (int k = 0; k < 3; k++) {
			const struct difference *d = &c.of[k];
			if (d->centre.thirds != raster_centre(&world_band[WORLD_FIRE].raster, 10 * i).thirds)
				continue;
			if (fabs(d->times.low / cases[i].low - 1) > 3e-4 ||
			    (isfinite(cases[i].high) ? fabs(d->times.high / cases[i].high - 1) > 3e-4 :
						       isfinite(d->times.high)))
				fail_msg("%d to %d: %g to %g", cases[i].before, cases[i].after, d->times.low,
					 d->times.high);
		}
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

/* Each hears all it can: the first looks each 100 s and meets one over in twenty. */
static void a_slow_survey_is_no_quiet_band(void **state)
{
	struct survey_of a = begin(0, 4, 100), b = begin(0, 4, 1);
	struct comparison c;

	(void)state;
	talk(&a, 10, 2, 0, 4, KIND_NFM, 0);
	talk(&b, 10, 40, 0, 4, KIND_NFM, 0);
	talk(&b, 20, 40, 0, 4, KIND_NFM, 0);
	struct census *first = end(&a), *second = end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	assert_int_equal(all_said(&c, 10), 0);
	assert_int_equal(said(&c, 20, CHANGE_OPEN), 1);
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

/* Who met nothing is judged by how long the other's exchanges are: each look in 4 s meets those of 5 s as surely as
 * each second, though hardly any single moment. Twelve of none by chance: 1 in 4096. */
static void judged_by_the_others_length(void **state)
{
	struct survey_of a = begin(0, 4, 1), b = begin(0, 4, 4);
	struct comparison c;

	(void)state;
	talk(&a, 10, 12, 0, 4, KIND_NFM, 0);
	talk(&b, 20, 12, 0, 4, KIND_NFM, 0);
	struct census *first = end(&a), *second = end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	assert_int_equal(said(&c, 10, CHANGE_GONE), 1);
	assert_int_equal(said(&c, 20, CHANGE_NEW), 1);
	comparison_free(&c);
	assert_true(!c.of && c.n == 0);
	assert_int_equal(compare(second, first, &c), 0);
	assert_int_equal(said(&c, 10, CHANGE_NEW), 1);
	assert_int_equal(said(&c, 20, CHANGE_GONE), 1);
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

/* What one could not judge in most of its looks may have been on all the while: then it shows no difference, either way. */
static void blind_looks_show_nothing(void **state)
{
	static const struct {
		const char *why;
		int         before, after;      /* exchanges                              */
		int         blind;              /* of the first's 3600 looks of each hour */
		enum change is;
	} by[] = {
		{ "nobody was blind", 6, 200, 0, CHANGE_BUSIER },
		{ "one look in seven", 6, 200, 500, CHANGE_BUSIER },
		{ "nine looks in ten", 6, 200, 3250, CHANGE_NONE },
		{ "the less is known, the other way round", 200, 6, 0, CHANGE_QUIETER },
		{ "what was judged was busy, and so may the rest have been", 200, 6, 2500, CHANGE_QUIETER },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct survey_of a = begin(0, 4, 1), b = begin(0, 4, 1);
		struct comparison c;
		talk(&a, 10, by[i].before, 0, 4, KIND_NFM, 0);
		talk(&b, 10, by[i].after, 0, 4, KIND_NFM, 0);
		for (int h = 0; h < 4 && by[i].blind > 0; h++) {
			struct activity_row blind = { .run = 1, .hour = NIGHT_US + h * HOUR_US, .band = WORLD_FIRE, .channel = 10,
						      .blind_looks = by[i].blind };
			assert_int_equal(tally_activity(a.tally, &blind), 0);
		}
		struct census *first = end(&a), *second = end(&b);
		assert_int_equal(compare(first, second, &c), 0);
		if (all_said(&c, 10) != (by[i].is != CHANGE_NONE) || (by[i].is != CHANGE_NONE && !said(&c, 10, by[i].is)))
			fail_msg("%s: %s", by[i].why, c.n ? change_name(c.of[0].is) : "nothing");
		comparison_free(&c);
		census_destroy(first);
		census_destroy(second);
	}
}

static void only_the_same_hours(void **state)
{
	struct survey_of a = begin(0, 4, 1), b = begin(2, 6, 1), d = begin(24, 28, 1), e = begin(10, 12, 1);
	struct comparison c;

	(void)state;
	talk(&a, 10, 60, 0, 2, KIND_NFM, 0);            /* nobody looked then in b */
	talk(&a, 10, 10, 2, 4, KIND_NFM, 0);
	talk(&b, 10, 10, 2, 4, KIND_NFM, 0);
	talk(&a, 20, 60, 0, 2, KIND_NFM, 0);
	talk(&b, 210, 60, 2, 4, KIND_NFM, 0);           /* a channel that neither looks at */
	talk(&d, 10, 70, 24, 28, KIND_NFM, 0);
	talk(&e, 10, 70, 10, 12, KIND_NFM, 0);
	struct census *first = end(&a), *second = end(&b), *friday = end(&d), *morning = end(&e);
	assert_int_equal(compare(first, second, &c), 0);
	assert_true(c.of_week && c.hours == 2 && c.counts[74] && c.counts[75]);
	assert_int_equal(all_said(&c, 10), 0);
	assert_int_equal(said(&c, 20, CHANGE_NOT_LOOKED), 1);
	assert_int_equal(said(&c, 210, CHANGE_NOT_LOOKED), 1);
	comparison_free(&c);
	/* Another day: the same hours of the day. */
	assert_int_equal(compare(first, friday, &c), 0);
	assert_true(!c.of_week && c.hours == 4 && c.counts[0]);
	assert_int_equal(all_said(&c, 10), 0);
	comparison_free(&c);
	/* No hour in common: nothing is said of anybody. */
	assert_int_equal(compare(first, morning, &c), 0);
	assert_true(c.hours == 0 && c.tests == 0);
	assert_int_equal(said(&c, 10, CHANGE_NOT_LOOKED), 1);
	assert_int_equal(said(&c, 20, CHANGE_NOT_LOOKED), 1);
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
	census_destroy(friday);
	census_destroy(morning);
}

/* n overs in four hours that are on for that share of them. */
static void stay(struct survey_of *s, int channel, int n, double share)
{
	for (int i = 0; i < n && share > 0; i++) {
		struct world_over o = { WORLD_FIRE, channel, 14400.0 * i / n, 14400 * share / n, 250, 0, 9000, KIND_NFM, 0 };
		struct transmission_row t = world_transmission(&o);
		struct activity_row a = world_activity(&o);
		assert_int_equal(tally_transmission(s->tally, &t), 0);
		assert_int_equal(tally_activity(s->tally, &a), 0);
	}
}

/* What is on for more than half of the time in either is held against the other by its share of the time. */
static void by_occupancy_where_on_for_most(void **state)
{
	static const struct {
		const char *why;
		double      before, after;
		enum change is;
	} cases[] = {
		{ "as much", 0.8, 0.8, CHANGE_NONE },
		{ "came on", 0, 0.8, CHANGE_NEW },
		{ "went off", 0.8, 0, CHANGE_GONE },
		{ "less", 0.9, 0.6, CHANGE_QUIETER },
		{ "far less than half", 0.8, 0.2, CHANGE_QUIETER },
		{ "more", 0.6, 0.9, CHANGE_BUSIER },
		{ "from far less than half", 0.2, 0.8, CHANGE_BUSIER },
	};
	enum { CASES = sizeof cases / sizeof cases[0] };
	struct survey_of a = begin(0, 4, 1), b = begin(0, 4, 1);
	struct comparison c;

	(void)state;
	talk(&a, 0, 25, 0, 4, KIND_NFM, 0);     /* so that no channel has the same place in both */
	for (int i = 0; i < CASES; i++) {
		stay(&a, 10 + 10 * i, 240, cases[i].before);
		stay(&b, 10 + 10 * i, 240, cases[i].after);
	}
	struct census *first = end(&a), *second = end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	for (int i = 0; i < CASES; i++) {
		bool right = cases[i].is == CHANGE_NONE ? all_said(&c, 10 + 10 * i) == 0 :
			said(&c, 10 + 10 * i, cases[i].is) == 1 && all_said(&c, 10 + 10 * i) == 1;
		if (!right)
			fail_msg("%s: not \"%s\" alone", cases[i].why, change_name(cases[i].is));
		for (int k = 0; k < c.n; k++) {
			const struct difference *d = &c.of[k];
			double times = cases[i].after / cases[i].before;
			if (d->centre.thirds != raster_centre(&world_band[WORLD_FIRE].raster, 10 + 10 * i).thirds)
				continue;
			assert_true(d->p == 0);
			/* All hours count: the intervals are the channels' own. */
			if (cases[i].before > 0 && cases[i].after > 0) {
				struct interval x = interval_occupancy(&channel_at(first, WORLD_FIRE, 10 + 10 * i)->looks);
				struct interval y = interval_occupancy(&channel_at(second, WORLD_FIRE, 10 + 10 * i)->looks);
				assert_true(fabs(d->times.low / (y.low / x.high) - 1) < 1e-6);
				assert_true(fabs(d->times.high / (y.high / x.low) - 1) < 1e-6);
			}
			if (cases[i].before > 0 && cases[i].after > 0)
				assert_true(d->times.low > 0.8 * times && d->times.low < times && d->times.high > times &&
					    d->times.high < 1.25 * times);
		}
	}
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

/* Nights that do not differ, by the dice: in 100 comparisons of 60 channels one may say that
 * something changed by the correction's promise; four have a chance of 1.8 %. */
static void chance_is_not_change(void **state)
{
	const uint64_t seed = 31;
	struct noise dice = { seed };
	int wrong = 0;

	(void)state;
	for (int n = 0; n < 100; n++) {
		struct survey_of of[2] = { begin(0, 4, 1), begin(0, 4, 1) };
		struct comparison c;
		for (int ch = 0; ch < 60; ch++) {
			double rate = 0.5 * pow(60, noise_uniform(&dice));      /* an hour */
			for (int k = 0; k < 2; k++)
				for (double at = 0; (at -= log1p(-noise_uniform(&dice)) / rate) < 3.9; )
					talk(&of[k], 3 * ch, 1, at, at, KIND_NFM, 0);
		}
		struct census *first = end(&of[0]), *second = end(&of[1]);
		assert_int_equal(compare(first, second, &c), 0);
		assert_true(c.tests > 40);
		for (int i = 0; i < c.n; i++)
			if (c.of[i].is <= CHANGE_QUIETER) {
				wrong++;
				break;
			}
		comparison_free(&c);
		census_destroy(first);
		census_destroy(second);
	}
	if (wrong > 3)
		fail_msg("%d of 100 comparisons saw a change that was none (seed %" PRIu64 ")", wrong, seed);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(changes),
		cmocka_unit_test(how_many_times),
		cmocka_unit_test(a_slow_survey_is_no_quiet_band),
		cmocka_unit_test(judged_by_the_others_length),
		cmocka_unit_test(blind_looks_show_nothing),
		cmocka_unit_test(only_the_same_hours),
		cmocka_unit_test(by_occupancy_where_on_for_most),
		cmocka_unit_test(chance_is_not_change),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
