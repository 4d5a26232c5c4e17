/* What ticks tell of a set, against a published regression and against sets of a known margin. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>

#include "tests/noise.h"
#include "tools/plan/ticks.h"

/* Hours of study and who passed, twenty students: the example in Wikipedia, "Logistic regression" (from
 * memory), where the slope is 1.5046 and the intercept -4.0777, so that half pass after 2.710 h. Five dB
 * for an hour. */
static void a_published_regression(void **state)
{
	static const struct { double hours; bool passed; } student[] = {
		{ 0.50, false }, { 0.75, false }, { 1.00, false }, { 1.25, false }, { 1.50, false }, { 1.75, false },
		{ 1.75, true },  { 2.00, false }, { 2.25, true },  { 2.50, false }, { 2.75, true },  { 3.00, false },
		{ 3.25, true },  { 3.50, false }, { 4.00, true },  { 4.25, true },  { 4.50, true },  { 4.75, true },
		{ 5.00, true },  { 5.50, true },
	};
	struct tick t[20];
	struct margin m;

	(void)state;
	for (int i = 0; i < 20; i++)
		t[i] = (struct tick){ 5 * student[i].hours, student[i].passed };
	ticks_margin(t, 20, &m);
	assert_true(m.told && m.heard == 10 && m.noise == 10);
	if (fabs(m.db - 5 * 2.710) > 0.5 || m.likely.low > 5 * 2.710 || m.likely.high < 5 * 2.710)
		fail_msg("%.2f dB (%.2f to %.2f), not near %.2f", m.db, m.likely.low, m.likely.high, 5 * 2.710);
}

/* How often a set's true margin lies in what its ticks tell, and how far off the middle is. */
#define SETS 250

static void known_margins_are_found(void **state)
{
	static const struct { int ticks; double scale_db, lapse; } kind[] = {
		{ 20, 1, 0 }, { 20, 2, 0 }, { 40, 1, 0 }, { 40, 3, 0 }, { 40, 1.5, 0.02 },
	};

	(void)state;
	for (size_t k = 0; k < sizeof kind / sizeof kind[0]; k++) {
		struct noise r = { 700 + k };
		int told = 0, held = 0;
		double off = 0, wide = 0;
		for (int s = 0; s < SETS; s++) {
			struct tick t[40];
			struct margin m;
			double margin = 8 + 10 * noise_uniform(&r);
			for (int i = 0; i < kind[k].ticks; i++) {
				double level = 4 + 26 * noise_uniform(&r);
				bool heard = noise_uniform(&r) < 1 / (1 + exp(-(level - margin) / kind[k].scale_db));
				if (noise_uniform(&r) < kind[k].lapse)
					heard = !heard;
				t[i] = (struct tick){ level, heard };
			}
			ticks_margin(t, kind[k].ticks, &m);
			if (!m.told)
				continue;
			told++;
			held += m.likely.low <= margin && margin <= m.likely.high;
			off += (m.db - margin) * (m.db - margin);
			wide += m.likely.high - m.likely.low;
		}
		printf("%d ticks, scale %.1f dB, slips %.2f, seed %zu: told in %d of %d, %.1f %% held, off %.2f dB, %.1f dB "
		       "wide\n", kind[k].ticks, kind[k].scale_db, kind[k].lapse, 700 + k, told, SETS, 100.0 * held / told,
		       sqrt(off / told), wide / told);
		assert_true(told > 3 * SETS / 4);
		/* 95 % of some 240, less four standard deviations. */
		assert_true(held > 0.894 * told);
		assert_true(sqrt(off / told) < 2.5);
	}
}

static void few_or_one_sided_ticks_tell_nothing(void **state)
{
	struct tick t[40];
	struct margin m;

	(void)state;
	for (int i = 0; i < 40; i++)
		t[i] = (struct tick){ 5 + 0.5 * i, i >= 20 };
	ticks_margin(t, 0, &m);
	assert_true(!m.told && m.heard == 0 && m.noise == 0);
	ticks_margin(t + 16, TICKS_LEAST - 1, &m);
	assert_true(!m.told && m.noise == 4);
	ticks_margin(t + 16, TICKS_LEAST, &m);
	assert_true(m.told && m.db > 13 && m.db < 16);
	ticks_margin(t + 18, 20, &m);           /* two of noise */
	assert_true(!m.told && m.noise == 2);
	ticks_margin(t + 20, 20, &m);           /* all heard: it may need anything less */
	assert_true(!m.told && m.heard == 20);
	/* At odds with each other: heard where weak as often as where strong. */
	for (int i = 0; i < 40; i++)
		t[i].heard = i % 2;
	for (int n = TICKS_LEAST; n <= 40; n += 2) {
		ticks_margin(t, n, &m);
		if (m.told)
			fail_msg("%d ticks tell %.1f to %.1f", n, m.likely.low, m.likely.high);
	}
}

/* More by some dB in, more by as much out. */
static void it_moves_with_the_levels(void **state)
{
	struct tick t[24], moved[24];
	struct margin a, b;

	(void)state;
	for (int i = 0; i < 24; i++) {
		t[i] = (struct tick){ 6 + 0.75 * i, i > 12 || i == 9 };
		moved[i] = (struct tick){ t[i].level_db + 5, t[i].heard };
	}
	ticks_margin(t, 24, &a);
	ticks_margin(moved, 24, &b);
	assert_true(a.told && b.told && fabs(b.db - a.db - 5) < 0.1);
	assert_true(a.likely.low < a.db && a.db < a.likely.high);
}

/* Mirrored about the middle of the grid they tell just that, and as much to either side. */
static void mirrored_ticks_tell_the_middle(void **state)
{
	struct tick t[24];
	struct margin m;

	(void)state;
	for (int i = 0; i < 12; i++) {
		t[i] = (struct tick){ 20 - 0.7 * (i + 0.5), i == 1 };
		t[23 - i] = (struct tick){ 20 + 0.7 * (i + 0.5), i != 1 };
	}
	ticks_margin(t, 24, &m);
	assert_true(m.told && fabs(m.db - 20) < 1e-6);
	assert_true(m.likely.high - 20 > 0.5 && fabs(m.likely.low + m.likely.high - 40) < 1e-6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_published_regression),
		cmocka_unit_test(known_margins_are_found),
		cmocka_unit_test(few_or_one_sided_ticks_tell_nothing),
		cmocka_unit_test(it_moves_with_the_levels),
		cmocka_unit_test(mirrored_ticks_tell_the_middle),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
