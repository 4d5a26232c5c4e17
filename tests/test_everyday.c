/* Bank 1 for every day: what must not wait, and as many second seats as it has room for. */
#include "tests/test.h"

#include <stdio.h>
#include <string.h>

#include "tests/slots_world.h"
#include "tools/plan/everyday.h"

#define OTHERS 6

static void begin(struct scene *s)
{
	scene_begin(s, world_band, WORLD_BANDS);
	scene_talk(s, WORLD_FIRE, 186, 10, 250, KIND_NFM);
	scene_talk(s, WORLD_FIRE, 40, 10, 250, KIND_NFM);
	for (int i = 0; i < OTHERS / 2; i++) {
		scene_talk(s, WORLD_BUSINESS, 50 + 10 * i, 3, 250, KIND_NFM);
		scene_talk(s, WORLD_AIR, 10 + 30 * i, 3, 250, KIND_AM);
	}
}

/* Each second seat in bank 1 follows in its slot, and says whose it is. */
static int seconds_of(const struct scene *s)
{
	int n = 0;

	for (int i = 0; i < s->plan->memories && s->plan->memory[i].bank == 1; i++) {
		const struct memory *m = &s->plan->memory[i];
		char says[80];
		if (!m->same_as.bank)
			continue;
		snprintf(says, sizeof says, "second seat of bank %d slot %d", m->same_as.bank, m->same_as.slot);
		assert_string_equal(m->reason, says);
		assert_true(m->same_as.bank > 1 && !m->priority && !m->locked);
		n++;
	}
	return n;
}

static void as_many_as_there_is_room_for(void **state)
{
	static const struct {
		const char *why;
		int         live, memories, empty, seats;
	} by[] = {
		{ "all", 25, 40, 4, OTHERS },
		{ "three are scanned, two of them fire", 3, 40, 4, 1 },
		{ "five are", 5, 40, 4, 3 },
		{ "no room beside fire", 2, 40, 4, 0 },
		{ "of nine slots four stay empty", 25, 9, 4, 3 },
		{ "of eight", 25, 8, 4, 2 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct scene s;
		char said[40], broken[200];
		begin(&s);
		s.receiver.live_per_bank = by[i].live;
		s.receiver.memories = by[i].memories;
		s.receiver.empty_per_bank = by[i].empty;
		scene_propose(&s);
		assert_null(plan_check(s.plan, &s.receiver, s.census, s.suspect, broken));
		int seats = seconds_of(&s);
		if (seats != by[i].seats)
			fail_msg("%s: %d second seats", by[i].why, seats);
		snprintf(said, sizeof said, "second seats for %d more", seats);
		assert_true(seats == 0 ? !s.plan->everyday[0] : strstr(s.plan->everyday, said) != NULL);
		/* What is wanted most comes first: aircraft 5, business 3. */
		for (int k = 1; k < s.plan->memories && s.plan->memory[k].bank == 1; k++)
			assert_true(s.plan->memory[k].weight <= s.plan->memory[k - 1].weight &&
				    s.plan->memory[k].slot == s.plan->memory[k - 1].slot + 1);
		scene_end(&s);
	}
}

/* From four banks on there is such a bank. */
static void receivers_that_have_one(void **state)
{
	(void)state;
	for (int banks = 1; banks <= 5; banks++) {
		struct scene s;
		begin(&s);
		s.receiver.banks = banks;
		scene_propose(&s);
		assert_int_equal(everyday_kept(&s.receiver), banks >= 4);
		assert_int_equal(seconds_of(&s) > 0, banks >= 4);
		scene_end(&s);
	}
}

/* What chats or is pinned elsewhere gets no second seat; what is locked in bank 1 takes none of its scanned ones. */
static void who_gets_none(void **state)
{
	static const struct { int pinned, locked, live, seats; } by[] = {
		{ 0, 0, 25, OTHERS }, { 1, 0, 25, OTHERS - 1 }, { 0, 3, 5, 3 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct scene s;
		struct typed *t;
		begin(&s);
		s.receiver.live_per_bank = by[i].live;
		t = scene_type(&s, 7, 1, slot_centre(WORLD_BUSINESS, 50));
		t->pinned = by[i].pinned;
		/* Nothing was heard on these: they stay, locked, without a say. */
		for (int k = 0; k < by[i].locked; k++) {
			t = scene_type(&s, 1, 30 + k, FREQ_KHZ(39000 + 20 * k));
			t->locked = t->pinned = true;
		}
		scene_propose(&s);
		int seats = seconds_of(&s);
		if (seats != by[i].seats)
			fail_msg("%d pinned, %d locked: %d second seats", by[i].pinned, by[i].locked, seats);
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(as_many_as_there_is_room_for),
		cmocka_unit_test(receivers_that_have_one),
		cmocka_unit_test(who_gets_none),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
