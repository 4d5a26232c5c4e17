/* A set in use: who stays, who moves, who goes, and what the listener is told of it. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/slots_world.h"
#include "tools/plan/words.h"

/* What somebody else left in it, and what the night knows of each. */
static void old_memories(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	scene_talk(&s, WORLD_FIRE, 186, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_FIRE, 40, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 70, 10, 250, KIND_DATA);
	scene_talk(&s, WORLD_BUSINESS, 90, 1, 250, KIND_NFM);
	scene_talk(&s, WORLD_AIR, 10, 10, 250, KIND_AM);
	scene_type(&s, 7, 3, slot_centre(WORLD_FIRE, 186));                  /* worth moving home */
	scene_type(&s, 7, 4, slot_centre(WORLD_BUSINESS, 50));               /* business has that bank, then */
	scene_type(&s, 7, 5, slot_centre(WORLD_BUSINESS, 70));
	scene_type(&s, 7, 6, slot_centre(WORLD_BUSINESS, 90));               /* too little for a new one */
	scene_type(&s, 7, 7, slot_centre(WORLD_BUSINESS, 200))->locked = true;
	scene_type(&s, 2, 9, FREQ_KHZ(39500));
	scene_type(&s, 2, 10, slot_centre(WORLD_AIR, 10))->mode = MODE_AM;
	scene_propose(&s);
	slots_hold_together(&s);
	slot_expect(&s, 7, 3, SLOT_CLEAR, "goes to bank 1 slot");
	slot_expect(&s, 7, 4, SLOT_ADJUST, "delay 4.0 instead of 2.0 s");
	slot_expect(&s, 7, 5, SLOT_CLEAR, "data");
	slot_expect(&s, 7, 6, SLOT_KEEP, "business");
	slot_expect(&s, 7, 7, SLOT_KEEP, "not looked at in all hours");
	slot_expect(&s, 2, 9, SLOT_KEEP, "did not look there");
	slot_expect(&s, 2, 10, SLOT_ADJUST, "delay");
	slot_expect(&s, 1, 1, SLOT_NEW, "fire");
	assert_true(scene_memory(&s, WORLD_BUSINESS, 90)->certainty == CERTAIN_WEAK);
	/* The silent ones are in the plan as they are in the set. */
	int kept = 0;
	for (int i = 0; i < s.plan->memories; i++) {
		const struct memory *m = &s.plan->memory[i];
		kept += m->kept;
		assert_true(!m->kept || (m->channel < 0 && m->locked == (m->bank == 7)));
	}
	assert_int_equal(kept, 2);
	scene_end(&s);
}

/* A frequency that the interests pin is in the plan though nothing was heard: where the set has it. */
static void wanted_whatever_was_heard(void **state)
{
	struct scene s;
	struct freq f = slot_centre(WORLD_BUSINESS, 200);

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	scene_whole_day(&s);
	scene_talk(&s, WORLD_FIRE, 186, 10, 250, KIND_NFM);
	s.interests.pinned = malloc(sizeof f);
	s.interests.pinned[0] = f;
	s.interests.n_pinned = 1;
	scene_type(&s, 6, 5, f);
	scene_type(&s, 6, 6, FREQ_KHZ(39500))->noted = NOTED_NOISE;
	scene_propose(&s);
	slots_hold_together(&s);
	slot_expect(&s, 6, 5, SLOT_KEEP, "pinned by you");
	slot_expect(&s, 6, 6, SLOT_ADJUST, "you heard only noise");
	assert_int_equal(s.plan->memories, 3);
	scene_end(&s);
}

/* Silence in all hours of a working day says enough; what was not looked at says nothing still. */
static void silence_when_all_was_looked_at(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	scene_whole_day(&s);
	scene_talk(&s, WORLD_FIRE, 186, 10, 250, KIND_NFM);
	scene_type(&s, 3, 1, slot_centre(WORLD_BUSINESS, 200));
	scene_type(&s, 3, 2, FREQ_KHZ(39500));
	scene_type(&s, 3, 3, slot_centre(WORLD_BUSINESS, 210))->pinned = true;
	scene_propose(&s);
	slots_hold_together(&s);
	slot_expect(&s, 3, 1, SLOT_CLEAR, "nothing heard here in 86400 looks, in every hour of the day");
	slot_expect(&s, 3, 2, SLOT_KEEP, "did not look there");
	slot_expect(&s, 3, 3, SLOT_KEEP, "pinned");
	scene_end(&s);
}

/* Whatever the survey says. */
static void pinned_slots_stay(void **state)
{
	struct scene s;
	struct typed *t;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	scene_talk(&s, WORLD_FIRE, 186, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 70, 10, 250, KIND_DATA);
	scene_type(&s, 5, 40, slot_centre(WORLD_FIRE, 186))->pinned = true;
	t = scene_type(&s, 1, 1, slot_centre(WORLD_BUSINESS, 70));
	t->pinned = t->priority = true;
	t = scene_type(&s, 1, 2, (struct freq){ slot_centre(WORLD_BUSINESS, 50).thirds + 15000 });
	t->pinned = true;
	t->mode = MODE_WFM;
	t->delay_s = 0;
	t = scene_type(&s, 6, 2, slot_centre(WORLD_BUSINESS, 50));
	t->pinned = t->locked = true;
	scene_type(&s, 6, 1, FREQ_KHZ(39500))->pinned = true;
	scene_propose(&s);
	slots_hold_together(&s);
	slot_expect(&s, 5, 40, SLOT_KEEP, "pinned by you; survey: fire");
	slot_expect(&s, 1, 1, SLOT_KEEP, "survey: data");
	slot_expect(&s, 1, 2, SLOT_KEEP, "heard on 450.625");
	slot_expect(&s, 6, 2, SLOT_KEEP, "pinned");
	slot_expect(&s, 6, 1, SLOT_KEEP, "pinned");
	assert_string_equal(s.plan->priority, "bank 1 slot 1, as it is in your set");
	/* What the survey knows of them. */
	assert_non_null(strstr(scene_memory(&s, WORLD_FIRE, 186)->evidence, "30 overs"));
	assert_non_null(strstr(s.plan->memory[s.plan->memories - 2].evidence, "not looked at"));
	scene_end(&s);
}

/* A full bank of what nobody looked at: what is wanted takes as many as it needs and no more, and what
 * was looked at in vain goes first. */
static void full_banks_give_way(void **state)
{
	struct scene s;
	int silent = 0, unlooked = 0;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	for (int i = 0; i < 6; i++)
		scene_talk(&s, WORLD_FIRE, 20 + 20 * i, 10, 250, KIND_NFM);
	for (int slot = 1; slot <= 40; slot++)
		scene_type(&s, 1, slot, slot > 20 && slot <= 24 ? slot_centre(WORLD_BUSINESS, 100 + 4 * slot) :
			   FREQ_KHZ(39000 + 20 * slot));
	scene_propose(&s);
	slots_hold_together(&s);
	for (int slot = 1; slot <= 40; slot++) {
		bool looked = slot > 20 && slot <= 24;
		const struct slot_change *c = slot_change_at(&s, 1, slot);
		silent += looked && c->is == SLOT_REPLACE;
		unlooked += !looked && c->is == SLOT_REPLACE;
		assert_true(c->is == SLOT_REPLACE || c->is == SLOT_KEEP || c->is == SLOT_ADJUST);
		if (c->is == SLOT_REPLACE)
			assert_non_null(strstr(c->reason, "its slot is wanted"));
		if (c->is == SLOT_ADJUST)
			assert_non_null(strstr(c->reason, "lock it"));
	}
	assert_int_equal(silent, 4);
	assert_int_equal(unlooked, 2);
	scene_end(&s);
}

/* In the set already, one holds its place against what is wanted as much, and yields to more. */
static void who_has_the_room(void **state)
{
	static const struct { double weight; bool moves; } by[] = { { 3.9, false }, { 4.1, true } };

	(void)state;
	for (size_t k = 0; k < sizeof by / sizeof by[0]; k++) {
		struct scene s;
		scene_begin(&s, world_band, WORLD_BANDS);
		s.receiver.banks = 1;
		s.receiver.memories = 6;
		s.receiver.empty_per_bank = 4;
		slots_want(&s, "air", by[k].weight);
		scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM);  /* weight 3 */
		scene_talk(&s, WORLD_BUSINESS, 80, 10, 250, KIND_NFM);
		scene_talk(&s, WORLD_AIR, 10, 10, 250, KIND_AM);
		scene_type(&s, 1, 2, slot_centre(WORLD_BUSINESS, 50));
		scene_type(&s, 1, 5, slot_centre(WORLD_BUSINESS, 80));
		scene_propose(&s);
		slots_hold_together(&s);
		assert_true(!scene_memory(&s, WORLD_AIR, 10) == !by[k].moves);
		slot_expect(&s, 1, 2, SLOT_ADJUST, "delay");
		slot_expect(&s, 1, 5, by[k].moves ? SLOT_REPLACE : SLOT_ADJUST, by[k].moves ? "no room" : "delay");
		scene_end(&s);
	}
}

/* A bank of others costs a memory a fifth of its weight, and moving costs 1. */
static void who_moves_home(void **state)
{
	static const struct { double weight; bool moves; } by[] = { { 4.9, false }, { 5.1, true } };

	(void)state;
	for (size_t k = 0; k < sizeof by / sizeof by[0]; k++) {
		struct scene s;
		scene_begin(&s, world_band, WORLD_BANDS);
		slots_want(&s, "air", by[k].weight);
		for (int i = 0; i < 3; i++) {
			scene_talk(&s, WORLD_BUSINESS, 50 + 10 * i, 10, 250, KIND_NFM);
			scene_type(&s, 4, 1 + i, slot_centre(WORLD_BUSINESS, 50 + 10 * i));
		}
		scene_talk(&s, WORLD_AIR, 10, 10, 250, KIND_AM);
		scene_talk(&s, WORLD_AIR, 40, 10, 250, KIND_AM);
		scene_talk(&s, WORLD_AIR, 70, 10, 250, KIND_AM);
		scene_type(&s, 4, 9, slot_centre(WORLD_AIR, 10))->mode = MODE_AM;
		scene_type(&s, 3, 9, slot_centre(WORLD_AIR, 40))->mode = MODE_AM;
		scene_type(&s, 3, 7, slot_centre(WORLD_AIR, 70))->mode = MODE_AM;
		scene_propose(&s);
		slots_hold_together(&s);
		const struct memory *m = scene_memory(&s, WORLD_AIR, 10);
		assert_non_null(m);
		assert_int_equal(m->bank, by[k].moves ? 3 : 4);
		assert_true(m->slot == (by[k].moves ? 1 : 9));
		assert_int_equal(scene_memory(&s, WORLD_AIR, 40)->slot, 9);     /* the family's bank is where most are */
		scene_end(&s);
	}
}

/* Presses of each step, with a profile whose keys all count differently. */
static void keys_are_counted(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	s.receiver.keypad = (struct keypad){ .enter = 1, .mode = 10, .step = 20, .delay = 40, .lockout = 80,
					     .priority = 160, .slot = 1000, .clear = 5000 };
	scene_talk(&s, WORLD_FIRE, 186, 10, 250, KIND_NFM);             /* 155.165: new, and priority */
	scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 81, 10, 250, KIND_NFM);          /* 451.0125: new */
	scene_talk(&s, WORLD_BUSINESS, 70, 10, 250, KIND_DATA);
	scene_talk(&s, WORLD_BUSINESS, 75, 10, 250, KIND_DATA);
	scene_type(&s, 2, 1, slot_centre(WORLD_BUSINESS, 50))->locked = true;
	scene_type(&s, 2, 2, slot_centre(WORLD_BUSINESS, 70))->locked = true;
	scene_type(&s, 2, 4, slot_centre(WORLD_BUSINESS, 75));
	scene_propose(&s);
	slots_hold_together(&s);
	assert_int_equal(slot_change_at(&s, 1, 1)->keys, 1000 + 7 + 1 + 10 + 20 + 40 + 160);
	assert_int_equal(slot_change_at(&s, 2, 1)->keys, 1000 + 80 + 40);
	/* It follows, after a second seat of its own kind in bank 1, and is locked now. */
	assert_int_equal(slot_change_at(&s, 2, 2)->keys, 8 + 1 + 80);
	assert_int_equal(slot_change_at(&s, 2, 4)->keys, 1000 + 5000);
	scene_end(&s);
}

/* Bank 1 is all second seats, of memories that come new: they name the slots that these get. */
static void second_seats_of_new_ones(void **state)
{
	struct scene s;
	int seconds = 0;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 81, 10, 250, KIND_NFM);
	scene_talk(&s, WORLD_AIR, 10, 10, 250, KIND_AM);
	scene_type(&s, 9, 1, FREQ_KHZ(39500));
	scene_propose(&s);
	slots_hold_together(&s);
	for (int i = 0; i < s.plan->memories; i++)
		seconds += s.plan->memory[i].same_as.bank > 0;
	assert_true(seconds > 1 && s.plan->memory[0].same_as.bank > 0);
	scene_end(&s);
}

/* What nobody heard stays scanned while its bank may have more, and is locked beyond that. */
static void silent_ones_fill_what_is_left(void **state)
{
	static const struct { int bank, memories, scanned; } by[] = { { 3, 5, 3 }, { 4, 2, 2 }, { 1, 4, 2 } };
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	s.receiver.live_per_bank = 3;
	scene_talk(&s, WORLD_FIRE, 186, 10, 250, KIND_NFM);     /* the one that was heard, in bank 1 */
	for (int i = 0; i < 3; i++)
		for (int k = 0; k < by[i].memories; k++)
			scene_type(&s, by[i].bank, 10 + k, FREQ_KHZ(39000 + 1000 * i + 20 * k));
	scene_propose(&s);
	slots_hold_together(&s);
	for (int i = 0; i < 3; i++) {
		int scanned = 0, locked = 0;
		for (int k = 0; k < s.plan->memories; k++) {
			const struct memory *m = &s.plan->memory[k];
			if (m->bank != by[i].bank || !m->kept)
				continue;
			scanned += !m->locked;
			locked += m->locked;
			assert_true(m->locked == (strstr(m->reason, "kept, but locked: its bank is scanned through 3") != NULL));
		}
		if (scanned != by[i].scanned || scanned + locked != by[i].memories)
			fail_msg("bank %d: %d scanned, %d locked", by[i].bank, scanned, locked);
	}
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(old_memories),
		cmocka_unit_test(wanted_whatever_was_heard),
		cmocka_unit_test(silence_when_all_was_looked_at),
		cmocka_unit_test(pinned_slots_stay),
		cmocka_unit_test(full_banks_give_way),
		cmocka_unit_test(who_has_the_room),
		cmocka_unit_test(who_moves_home),
		cmocka_unit_test(keys_are_counted),
		cmocka_unit_test(second_seats_of_new_ones),
		cmocka_unit_test(silent_ones_fill_what_is_left),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
