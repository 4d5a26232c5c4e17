/* What is known of a set in use, slot by slot. */
#include "tests/test.h"

#include <string.h>

#include "tests/slots_world.h"

/* A memory's silence says something when every hour of the day was looked at, and one at work. */
static void silence_needs_all_hours(void **state)
{
	static const struct {
		const char *why;
		struct freq at;
		int         missing;            /* hour of the day without a look; -1: none      */
		int         work;               /* hours at work with looks                      */
		enum former_looked want;
	} by[] = {
		{ "outside all bands", { INT64_C(3) * 39500000 }, -1, 10, FORMER_UNLOOKED },
		{ "all hours", { INT64_C(3) * 452500000 }, -1, 10, FORMER_LOOKED },
		{ "one at work is enough", { INT64_C(3) * 452500000 }, -1, 1, FORMER_LOOKED },
		{ "none is not", { INT64_C(3) * 452500000 }, -1, 0, FORMER_PARTLY },
		{ "not at three", { INT64_C(3) * 452500000 }, 3, 10, FORMER_PARTLY },
		{ "not at midnight", { INT64_C(3) * 452500000 }, 0, 10, FORMER_PARTLY },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct scene s;
		scene_begin(&s, &world_band[WORLD_BUSINESS], 1);
		scene_whole_day(&s);
		scene_talk(&s, 0, 50, 10, 250, KIND_NFM);
		scene_type(&s, 3, 1, by[i].at);
		scene_propose(&s);
		struct looked *l = &s.census->looked[0];
		l->of_day = by[i].missing < 0 ? 0xffffff : 0xffffff & ~(UINT32_C(1) << by[i].missing);
		for (int h = 0, work = 0; h < WEEK_HOURS; h++) {
			bool at_work = h / DAY_HOURS < 5 && h % DAY_HOURS >= 8 && h % DAY_HOURS < 18;
			s.census->week[0].cell[h].looked_us = !at_work || work < by[i].work;
			work += at_work;
		}
		enum former_looked got = former_looked(&s.former, former_at(&s.former, 3, 1));
		if (got != by[i].want)
			fail_msg("%s: %d", by[i].why, got);
		scene_end(&s);
	}
}

/* Of a channel in several slots: pinned by the first pinned one, noted by what weighs most. */
static void words_of_a_channel(void **state)
{
	static const struct { enum noted first, second, want; } by[] = {
		{ NOTED_NOTHING, NOTED_YES, NOTED_YES },
		{ NOTED_YES, NOTED_NOISE, NOTED_NOISE },
		{ NOTED_NOISE, NOTED_YES, NOTED_NOISE },
		{ NOTED_LOCKED, NOTED_NOISE, NOTED_LOCKED },
		{ NOTED_NOISE, NOTED_LOCKED, NOTED_LOCKED },
		{ NOTED_NOTHING, NOTED_NOTHING, NOTED_NOTHING },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct scene s;
		struct freq f = slot_centre(WORLD_BUSINESS, 50);
		scene_begin(&s, world_band, WORLD_BANDS);
		scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM);
		scene_talk(&s, WORLD_BUSINESS, 90, 10, 250, KIND_NFM);
		scene_type(&s, 3, 1, f)->noted = by[i].first;
		struct typed *t = scene_type(&s, 4, 2, f);
		t->noted = by[i].second;
		t->pinned = true;
		scene_type(&s, 5, 7, f)->pinned = true;
		scene_propose(&s);
		struct former_word w = former_of(&s.former, 0), other = former_of(&s.former, 1);
		assert_true(w.held && w.noted == by[i].want);
		assert_non_null(w.fixed);
		assert_true(w.fixed->bank == 4 && w.fixed->slot == 2);
		assert_true(!other.held && !other.fixed && other.noted == NOTED_NOTHING);
		assert_int_equal(former_at(&s.former, 5, 7)->channel, 0);
		assert_null(former_at(&s.former, 5, 1));
		assert_null(former_at(&s.former, 7, 7));
		assert_int_equal(former_typed(&s.former, former_at(&s.former, 4, 2))->slot, 2);
		scene_end(&s);
	}
	assert_false(former_of(NULL, 0).held);
}

/* A pinned slot on which the set hears itself says so, though it stays. */
static void pinned_on_a_birdie(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	s.receiver.birdie[0] = FREQ_KHZ(39500);
	s.receiver.birdies = 1;
	scene_type(&s, 3, 1, FREQ_KHZ(39500))->pinned = true;
	scene_type(&s, 3, 2, FREQ_KHZ(39700))->pinned = true;
	scene_propose(&s);
	assert_int_equal(s.plan->memories, 2);
	assert_true(s.plan->memory[0].hazard[0] != '\0');
	assert_true(s.plan->memory[1].hazard[0] == '\0');
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(silence_needs_all_hours),
		cmocka_unit_test(words_of_a_channel),
		cmocka_unit_test(pinned_on_a_birdie),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
