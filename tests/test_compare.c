#include "tests/test.h"

#include <inttypes.h>
#include <math.h>

#include "tests/compare_world.h"
#include "tests/noise.h"

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
	struct survey_of a = compare_begin(0, 4, 1), b = compare_begin(0, 4, 1);
	struct comparison c;

	(void)state;
	for (int i = 0; i < CASES; i++) {
		compare_talk(&a, 10 * i, cases[i].before, 0, 4, cases[i].was, cases[i].tone_was);
		compare_talk(&b, 10 * i, cases[i].after, 0, 4, cases[i].now, cases[i].tone_now);
	}
	struct census *first = compare_end(&a), *second = compare_end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	assert_true(c.of_week && c.hours == 4 && c.tests == CASES);
	for (int i = 0; i < CASES; i++) {
		bool right = cases[i].is == CHANGE_NONE ? compare_all_said(&c, 10 * i) == 0 :
			compare_said(&c, 10 * i, cases[i].is) == 1 && compare_all_said(&c, 10 * i) == 1;
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
	struct survey_of a = compare_begin(0, 4, 1), b = compare_begin(0, 4, 1);
	struct comparison c;

	(void)state;
	for (int i = 0; i < 3; i++) {
		compare_talk(&a, 10 * i, cases[i].before, 0, 4, KIND_NFM, 0);
		compare_talk(&b, 10 * i, cases[i].after, 0, 4, KIND_NFM, 0);
	}
	struct census *first = compare_end(&a), *second = compare_end(&b);
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
	struct survey_of a = compare_begin(0, 4, 100), b = compare_begin(0, 4, 1);
	struct comparison c;

	(void)state;
	compare_talk(&a, 10, 2, 0, 4, KIND_NFM, 0);
	compare_talk(&b, 10, 40, 0, 4, KIND_NFM, 0);
	compare_talk(&b, 20, 40, 0, 4, KIND_NFM, 0);
	struct census *first = compare_end(&a), *second = compare_end(&b);
	assert_int_equal(compare(first, second, &c), 0);
	assert_int_equal(compare_all_said(&c, 10), 0);
	assert_int_equal(compare_said(&c, 20, CHANGE_OPEN), 1);
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
}

static void only_the_same_hours(void **state)
{
	struct survey_of a = compare_begin(0, 4, 1), b = compare_begin(2, 6, 1), d = compare_begin(24, 28, 1), e = compare_begin(10, 12, 1);
	struct comparison c;

	(void)state;
	compare_talk(&a, 10, 60, 0, 2, KIND_NFM, 0);            /* nobody looked then in b */
	compare_talk(&a, 10, 10, 2, 4, KIND_NFM, 0);
	compare_talk(&b, 10, 10, 2, 4, KIND_NFM, 0);
	compare_talk(&a, 20, 60, 0, 2, KIND_NFM, 0);
	compare_talk(&b, 210, 60, 2, 4, KIND_NFM, 0);           /* a channel that neither looks at */
	compare_talk(&d, 10, 70, 24, 28, KIND_NFM, 0);
	compare_talk(&e, 10, 70, 10, 12, KIND_NFM, 0);
	struct census *first = compare_end(&a), *second = compare_end(&b), *friday = compare_end(&d), *morning = compare_end(&e);
	assert_int_equal(compare(first, second, &c), 0);
	assert_true(c.of_week && c.hours == 2 && c.counts[74] && c.counts[75]);
	assert_int_equal(compare_all_said(&c, 10), 0);
	assert_int_equal(compare_said(&c, 20, CHANGE_NOT_LOOKED), 1);
	assert_int_equal(compare_said(&c, 210, CHANGE_NOT_LOOKED), 1);
	comparison_free(&c);
	/* Another day: the same hours of the day. */
	assert_int_equal(compare(first, friday, &c), 0);
	assert_true(!c.of_week && c.hours == 4 && c.counts[0]);
	assert_int_equal(compare_all_said(&c, 10), 0);
	comparison_free(&c);
	/* No hour in common: nothing is said of anybody. */
	assert_int_equal(compare(first, morning, &c), 0);
	assert_true(c.hours == 0 && c.tests == 0);
	assert_int_equal(compare_said(&c, 10, CHANGE_NOT_LOOKED), 1);
	assert_int_equal(compare_said(&c, 20, CHANGE_NOT_LOOKED), 1);
	comparison_free(&c);
	census_destroy(first);
	census_destroy(second);
	census_destroy(friday);
	census_destroy(morning);
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
		struct survey_of of[2] = { compare_begin(0, 4, 1), compare_begin(0, 4, 1) };
		struct comparison c;
		for (int ch = 0; ch < 60; ch++) {
			double rate = 0.5 * pow(60, noise_uniform(&dice));      /* an hour */
			for (int k = 0; k < 2; k++)
				for (double at = 0; (at -= log1p(-noise_uniform(&dice)) / rate) < 3.9; )
					compare_talk(&of[k], 3 * ch, 1, at, at, KIND_NFM, 0);
		}
		struct census *first = compare_end(&of[0]), *second = compare_end(&of[1]);
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
		cmocka_unit_test(only_the_same_hours),
		cmocka_unit_test(chance_is_not_change),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
