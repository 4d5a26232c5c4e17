/* What a listener ticked in the set in use, and what is made of it. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/slots_world.h"
#include "tools/plan/words.h"

/* yes, noise and locked, and what becomes of each. */
static void ticks_are_remembered(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	for (int i = 0; i < 12; i++) {
		scene_talk(&s, WORLD_BUSINESS, 40 + 20 * i, 10, 110 + 15 * i, KIND_NFM);
		/* Heard from 17 dB on. */
		scene_type(&s, 3, 1 + i, slot_centre(WORLD_BUSINESS, 40 + 20 * i))->noted = i < 5 ? NOTED_NOISE : NOTED_YES;
	}
	scene_talk(&s, WORLD_BUSINESS, 300, 10, 100, KIND_NFM);         /* new, and weaker than any heard */
	scene_talk(&s, WORLD_BUSINESS, 330, 10, 250, KIND_NFM);         /* new, and strong */
	scene_talk(&s, WORLD_BUSINESS, 350, 10, 250, KIND_NFM);
	scene_type(&s, 4, 4, slot_centre(WORLD_BUSINESS, 350))->noted = NOTED_LOCKED;
	scene_propose(&s);
	slots_hold_together(&s);
	const struct margin *m = &s.plan->margin;
	assert_true(m->told && m->heard == 7 && m->noise == 5);
	if (!(m->likely.low > 13 && m->likely.low < m->db && m->db < m->likely.high && m->likely.high < 22))
		fail_msg("%.1f (%.1f to %.1f)", m->db, m->likely.low, m->likely.high);
	assert_non_null(strstr(scene_left(&s, WORLD_BUSINESS, 300), "too weak for your set"));
	assert_false(scene_memory(&s, WORLD_BUSINESS, 330)->locked);
	slot_expect(&s, 4, 4, SLOT_KEEP, "locked by you");
	assert_true(scene_memory(&s, WORLD_BUSINESS, 350)->locked);
	assert_int_equal(scene_memory(&s, WORLD_BUSINESS, 350)->noted, NOTED_LOCKED);
	assert_string_equal(scene_memory(&s, WORLD_BUSINESS, 350)->reason, "locked by you");
	int noisy = 0;
	for (int i = 0; i < 12; i++) {
		const struct memory *e = scene_memory(&s, WORLD_BUSINESS, 40 + 20 * i);
		const char *left = scene_left(&s, WORLD_BUSINESS, 40 + 20 * i);
		/* Heard stays, noise is locked, or left out where the set needs far more. */
		assert_true(i >= 5 ? e && !e->locked && e->noted == NOTED_YES :
			    e ? e->locked && e->noted == NOTED_NOISE : left && strstr(left, "too weak for your set"));
		if (i < 5 && e) {
			noisy++;
			assert_string_equal(e->reason, "you heard only noise here: locked, clear it if you want the slot");
		}
	}
	assert_true(noisy > 0);
	scene_end(&s);
}

/* A few noisy ones among many do not make theirs the bank of the locked. */
static void ticks_leave_a_family_its_bank(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	for (int i = 0; i < 8; i++) {
		scene_talk(&s, WORLD_BUSINESS, 40 + 20 * i, 10, 250, KIND_NFM);
		scene_type(&s, 3, 1 + i, slot_centre(WORLD_BUSINESS, 40 + 20 * i))->noted = i < 3 ? NOTED_LOCKED : NOTED_YES;
	}
	scene_talk(&s, WORLD_BUSINESS, 300, 10, 250, KIND_NFM);
	scene_propose(&s);
	slots_hold_together(&s);
	for (int i = 0; i < 8; i++) {
		const struct memory *e = scene_memory(&s, WORLD_BUSINESS, 40 + 20 * i);
		assert_true(e && e->bank == 3 && e->slot == 1 + i && e->locked == (i < 3));
	}
	assert_int_equal(scene_memory(&s, WORLD_BUSINESS, 300)->bank, 3);
	scene_end(&s);
}

/* Ticks only remove or mark: nobody comes by them. */
static void ticks_only_remove_or_mark(void **state)
{
	struct scene s[2];

	(void)state;
	for (int ticked = 0; ticked < 2; ticked++) {
		scene_begin(&s[ticked], world_band, WORLD_BANDS);
		for (int i = 0; i < 20; i++) {
			scene_talk(&s[ticked], WORLD_BUSINESS, 10 + 10 * i, 10, 105 + 10 * i, KIND_NFM);
			if (i % 2 == 0)
				scene_type(&s[ticked], 3, 1 + i, slot_centre(WORLD_BUSINESS, 10 + 10 * i))->noted =
					!ticked ? NOTED_NOTHING : i < 8 ? NOTED_NOISE : NOTED_YES;
		}
		scene_propose(&s[ticked]);
		slots_hold_together(&s[ticked]);
	}
	int removed = 0, marked = 0;
	assert_true(s[1].plan->margin.told && !s[0].plan->margin.told);
	for (int i = 0; i < 20; i++) {
		const struct memory *a = scene_memory(&s[0], WORLD_BUSINESS, 10 + 10 * i),
				    *b = scene_memory(&s[1], WORLD_BUSINESS, 10 + 10 * i);
		assert_true(a || !b);
		removed += a && !b;
		marked += b && strstr(b->reason, "hard to hear");
		assert_true(!b || i % 2 || (a->bank == b->bank && a->slot == b->slot));
	}
	assert_true(removed >= 2 && marked >= 1);
	scene_end(&s[0]);
	scene_end(&s[1]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(ticks_are_remembered),
		cmocka_unit_test(ticks_leave_a_family_its_bank),
		cmocka_unit_test(ticks_only_remove_or_mark),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
