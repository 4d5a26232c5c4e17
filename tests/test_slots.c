/* A set in use: who stays, who moves, who goes, and what the listener is told of it. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tools/plan/words.h"

static struct freq centre(int32_t band, int32_t channel)
{
	return raster_centre(&world_band[band].raster, channel);
}

/* What is to be done there; fails when nothing is told of the slot. */
static const struct slot_change *change_at(const struct scene *s, int bank, int slot)
{
	for (int i = 0; i < s->plan->changes; i++)
		if (s->plan->change[i].bank == bank && s->plan->change[i].slot == slot)
			return &s->plan->change[i];
	fail_msg("bank %d slot %d is not told", bank, slot);
	return NULL;
}

static void expect(const struct scene *s, int bank, int slot, enum slot_step is, const char *says)
{
	const struct slot_change *c = change_at(s, bank, slot);

	if (c->is != is || !strstr(c->reason, says))
		fail_msg("bank %d slot %d: %s, \"%s\", not %s with \"%s\"", bank, slot, slot_step_name(c->is), c->reason,
			 slot_step_name(is), says);
}

/* Each slot that was or is in use is told once, as it is; and no rule is broken. */
static void holds_together(const struct scene *s)
{
	char broken[200];
	const char *rule = plan_check(s->plan, &s->receiver, s->census, s->suspect, broken);
	int told = 0;

	if (rule)
		fail_msg("%s", rule);
	for (int bank = 1; bank <= s->receiver.banks; bank++)
		for (int slot = 1; slot <= s->receiver.memories; slot++) {
			const struct memory *was = former_at(&s->former, bank, slot), *now = NULL;
			for (int i = 0; i < s->plan->memories; i++)
				if (s->plan->memory[i].bank == bank && s->plan->memory[i].slot == slot)
					now = &s->plan->memory[i];
			if (!was && !now)
				continue;
			const struct slot_change *c = change_at(s, bank, slot);
			told++;
			bool same = was && now && was->landing.landed.thirds == now->landing.landed.thirds &&
				    was->mode == now->mode;
			assert_true(!was == (c->is == SLOT_NEW) && !now == (c->is == SLOT_CLEAR));
			assert_true(same == (c->is == SLOT_KEEP || c->is == SLOT_ADJUST));
			assert_true((c->keys > 0) == (c->is != SLOT_KEEP));
			assert_true(c->reason[0] && c->was_landed.thirds == (was ? was->landing.landed.thirds : 0));
			assert_true(!was || !was->fixed || c->is == SLOT_KEEP);
		}
	assert_int_equal(told, s->plan->changes);
}

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
	scene_type(&s, 7, 3, centre(WORLD_FIRE, 186));                  /* worth moving home */
	scene_type(&s, 7, 4, centre(WORLD_BUSINESS, 50));               /* business has that bank, then */
	scene_type(&s, 7, 5, centre(WORLD_BUSINESS, 70));
	scene_type(&s, 7, 6, centre(WORLD_BUSINESS, 90));               /* too little for a new one */
	scene_type(&s, 7, 7, centre(WORLD_BUSINESS, 200))->locked = true;
	scene_type(&s, 2, 9, FREQ_KHZ(39500));
	scene_type(&s, 2, 10, centre(WORLD_AIR, 10))->mode = MODE_AM;
	scene_propose(&s);
	holds_together(&s);
	expect(&s, 7, 3, SLOT_CLEAR, "goes to bank 1 slot");
	expect(&s, 7, 4, SLOT_ADJUST, "delay 4.0 instead of 2.0 s");
	expect(&s, 7, 5, SLOT_CLEAR, "data");
	expect(&s, 7, 6, SLOT_KEEP, "business");
	expect(&s, 7, 7, SLOT_KEEP, "not looked at in all hours");
	expect(&s, 2, 9, SLOT_KEEP, "did not look there");
	expect(&s, 2, 10, SLOT_ADJUST, "delay");
	expect(&s, 1, 1, SLOT_NEW, "fire");
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
	struct freq f = centre(WORLD_BUSINESS, 200);

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
	holds_together(&s);
	expect(&s, 6, 5, SLOT_KEEP, "pinned by you");
	expect(&s, 6, 6, SLOT_ADJUST, "you heard only noise");
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
	scene_type(&s, 3, 1, centre(WORLD_BUSINESS, 200));
	scene_type(&s, 3, 2, FREQ_KHZ(39500));
	scene_type(&s, 3, 3, centre(WORLD_BUSINESS, 210))->pinned = true;
	scene_propose(&s);
	holds_together(&s);
	expect(&s, 3, 1, SLOT_CLEAR, "nothing heard here in 86400 looks, in every hour of the day");
	expect(&s, 3, 2, SLOT_KEEP, "did not look there");
	expect(&s, 3, 3, SLOT_KEEP, "pinned");
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
	scene_type(&s, 5, 40, centre(WORLD_FIRE, 186))->pinned = true;
	t = scene_type(&s, 1, 1, centre(WORLD_BUSINESS, 70));
	t->pinned = t->priority = true;
	t = scene_type(&s, 1, 2, (struct freq){ centre(WORLD_BUSINESS, 50).thirds + 15000 });
	t->pinned = true;
	t->mode = MODE_WFM;
	t->delay_s = 0;
	t = scene_type(&s, 6, 2, centre(WORLD_BUSINESS, 50));
	t->pinned = t->locked = true;
	scene_type(&s, 6, 1, FREQ_KHZ(39500))->pinned = true;
	scene_propose(&s);
	holds_together(&s);
	expect(&s, 5, 40, SLOT_KEEP, "pinned by you; survey: fire");
	expect(&s, 1, 1, SLOT_KEEP, "survey: data");
	expect(&s, 1, 2, SLOT_KEEP, "heard on 450.625");
	expect(&s, 6, 2, SLOT_KEEP, "pinned");
	expect(&s, 6, 1, SLOT_KEEP, "pinned");
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
		scene_type(&s, 1, slot, slot > 20 && slot <= 24 ? centre(WORLD_BUSINESS, 100 + 4 * slot) :
			   FREQ_KHZ(39000 + 20 * slot));
	scene_propose(&s);
	holds_together(&s);
	for (int slot = 1; slot <= 40; slot++) {
		bool looked = slot > 20 && slot <= 24;
		const struct slot_change *c = change_at(&s, 1, slot);
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
		for (int i = 0; i < s.interests.services; i++)
			if (strcmp(s.interests.service[i].service, "air") == 0)
				s.interests.service[i].weight = by[k].weight;
		scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM);  /* weight 3 */
		scene_talk(&s, WORLD_BUSINESS, 80, 10, 250, KIND_NFM);
		scene_talk(&s, WORLD_AIR, 10, 10, 250, KIND_AM);
		scene_type(&s, 1, 2, centre(WORLD_BUSINESS, 50));
		scene_type(&s, 1, 5, centre(WORLD_BUSINESS, 80));
		scene_propose(&s);
		holds_together(&s);
		assert_true(!scene_memory(&s, WORLD_AIR, 10) == !by[k].moves);
		expect(&s, 1, 2, SLOT_ADJUST, "delay");
		expect(&s, 1, 5, by[k].moves ? SLOT_REPLACE : SLOT_ADJUST, by[k].moves ? "no room" : "delay");
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
		for (int i = 0; i < s.interests.services; i++)
			if (strcmp(s.interests.service[i].service, "air") == 0)
				s.interests.service[i].weight = by[k].weight;
		for (int i = 0; i < 3; i++) {
			scene_talk(&s, WORLD_BUSINESS, 50 + 10 * i, 10, 250, KIND_NFM);
			scene_type(&s, 4, 1 + i, centre(WORLD_BUSINESS, 50 + 10 * i));
		}
		scene_talk(&s, WORLD_AIR, 10, 10, 250, KIND_AM);
		scene_talk(&s, WORLD_AIR, 40, 10, 250, KIND_AM);
		scene_talk(&s, WORLD_AIR, 70, 10, 250, KIND_AM);
		scene_type(&s, 4, 9, centre(WORLD_AIR, 10))->mode = MODE_AM;
		scene_type(&s, 3, 9, centre(WORLD_AIR, 40))->mode = MODE_AM;
		scene_type(&s, 3, 7, centre(WORLD_AIR, 70))->mode = MODE_AM;
		scene_propose(&s);
		holds_together(&s);
		const struct memory *m = scene_memory(&s, WORLD_AIR, 10);
		assert_non_null(m);
		assert_int_equal(m->bank, by[k].moves ? 3 : 4);
		assert_true(m->slot == (by[k].moves ? 1 : 9));
		assert_int_equal(scene_memory(&s, WORLD_AIR, 40)->slot, 9);     /* the family's bank is where most are */
		scene_end(&s);
	}
}

/* yes, noise and locked, and what becomes of each. */
static void ticks_are_remembered(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	for (int i = 0; i < 12; i++) {
		scene_talk(&s, WORLD_BUSINESS, 40 + 20 * i, 10, 110 + 15 * i, KIND_NFM);
		/* Heard from 17 dB on. */
		scene_type(&s, 3, 1 + i, centre(WORLD_BUSINESS, 40 + 20 * i))->noted = i < 5 ? NOTED_NOISE : NOTED_YES;
	}
	scene_talk(&s, WORLD_BUSINESS, 300, 10, 100, KIND_NFM);         /* new, and weaker than any heard */
	scene_talk(&s, WORLD_BUSINESS, 330, 10, 250, KIND_NFM);         /* new, and strong */
	scene_talk(&s, WORLD_BUSINESS, 350, 10, 250, KIND_NFM);
	scene_type(&s, 4, 4, centre(WORLD_BUSINESS, 350))->noted = NOTED_LOCKED;
	scene_propose(&s);
	holds_together(&s);
	const struct margin *m = &s.plan->margin;
	assert_true(m->told && m->heard == 7 && m->noise == 5);
	if (!(m->likely.low > 13 && m->likely.low < m->db && m->db < m->likely.high && m->likely.high < 22))
		fail_msg("%.1f (%.1f to %.1f)", m->db, m->likely.low, m->likely.high);
	assert_non_null(strstr(scene_left(&s, WORLD_BUSINESS, 300), "too weak for your set"));
	assert_false(scene_memory(&s, WORLD_BUSINESS, 330)->locked);
	expect(&s, 4, 4, SLOT_KEEP, "locked by you");
	assert_true(scene_memory(&s, WORLD_BUSINESS, 350)->locked);
	assert_int_equal(scene_memory(&s, WORLD_BUSINESS, 350)->noted, NOTED_LOCKED);
	for (int i = 0; i < 12; i++) {
		const struct memory *e = scene_memory(&s, WORLD_BUSINESS, 40 + 20 * i);
		const char *left = scene_left(&s, WORLD_BUSINESS, 40 + 20 * i);
		/* Heard stays, noise is locked, or left out where the set needs far more. */
		assert_true(i >= 5 ? e && !e->locked && e->noted == NOTED_YES :
			    e ? e->locked && e->noted == NOTED_NOISE : left && strstr(left, "too weak for your set"));
	}
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
		scene_type(&s, 3, 1 + i, centre(WORLD_BUSINESS, 40 + 20 * i))->noted = i < 3 ? NOTED_LOCKED : NOTED_YES;
	}
	scene_talk(&s, WORLD_BUSINESS, 300, 10, 250, KIND_NFM);
	scene_propose(&s);
	holds_together(&s);
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
				scene_type(&s[ticked], 3, 1 + i, centre(WORLD_BUSINESS, 10 + 10 * i))->noted =
					!ticked ? NOTED_NOTHING : i < 8 ? NOTED_NOISE : NOTED_YES;
		}
		scene_propose(&s[ticked]);
		holds_together(&s[ticked]);
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
	scene_type(&s, 2, 1, centre(WORLD_BUSINESS, 50))->locked = true;
	scene_type(&s, 2, 2, centre(WORLD_BUSINESS, 70))->locked = true;
	scene_type(&s, 2, 4, centre(WORLD_BUSINESS, 75));
	scene_propose(&s);
	holds_together(&s);
	assert_int_equal(change_at(&s, 1, 1)->keys, 1000 + 7 + 1 + 10 + 20 + 40 + 160);
	assert_int_equal(change_at(&s, 2, 1)->keys, 1000 + 80 + 40);
	/* It follows, after a second seat of its own kind in bank 1, and is locked now. */
	assert_int_equal(change_at(&s, 2, 2)->keys, 8 + 1 + 80);
	assert_int_equal(change_at(&s, 2, 4)->keys, 1000 + 5000);
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
		cmocka_unit_test(ticks_are_remembered),
		cmocka_unit_test(ticks_leave_a_family_its_bank),
		cmocka_unit_test(ticks_only_remove_or_mark),
		cmocka_unit_test(keys_are_counted),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
