/* plan_check sees each kind of harm done to a good plan, and says which. */
#include "tests/test.h"

#include <stdio.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tools/plan/layout.h"
#include "tools/plan/scan.h"

/* Fire in bank 1, on 155.165 and 154.75; aircraft on a channel of 25/3 kHz that is none of 25 kHz; a loop, locked;
 * data and one heard too little, left out. */
static void good_scene(struct scene *s)
{
	scene_begin(s, world_band, WORLD_BANDS);
	scene_talk(s, WORLD_FIRE, 186, 20, 300, KIND_NFM);
	scene_talk(s, WORLD_FIRE, 20, 20, 300, KIND_NFM);
	scene_talk(s, WORLD_BUSINESS, 150, 1, 250, KIND_NFM);
	scene_talk(s, WORLD_BUSINESS, 50, 9, 250, KIND_DATA);
	scene_talk(s, WORLD_AIR, 397, 20, 250, KIND_AM);
	scene_add(s, (struct world_over){ WORLD_AIR, 1005, 0, 14399, 250, 0, 6000, KIND_AM, 0 });
	scene_propose(s);
}

static struct memory *first(struct scene *s) { return &s->plan->memory[0]; }
static struct channel *heard(struct scene *s) { return &s->census->channel[first(s)->channel]; }

static struct memory *which(struct scene *s, bool (*is)(const struct memory *m))
{
	for (int i = 0; i < s->plan->memories; i++)
		if (is(&s->plan->memory[i]))
			return &s->plan->memory[i];
	fail_msg("no such memory");
	return NULL;
}

static bool locked(const struct memory *m) { return m->locked; }
static bool aircraft(const struct memory *m) { return strcmp(m->service, "air") == 0 && !m->locked; }
static bool doubled(const struct memory *m) { return m->same_as.bank > 0; }
static bool prior(const struct memory *m) { return m->priority; }

/* ---- harm to a memory ---- */

static void off_step(struct scene *s) { first(s)->landing.landed.thirds += 3; }
static void no_step_of_its(struct scene *s) { first(s)->landing.step = FREQ_HZ(6250); }
static void step_of_nothing(struct scene *s) { first(s)->landing.step = FREQ_HZ(0); }
static void wrong_error(struct scene *s) { first(s)->landing.error.thirds += 3; }
static void far_off(struct scene *s)
{
	first(s)->frequency.thirds += 60000;
	first(s)->landing.error.thirds -= 60000;
}
static void cellular_memory(struct scene *s)
{
	s->receiver.reach[0].high = FREQ_KHZ(860000);
	first(s)->frequency = first(s)->landing.landed = FREQ_KHZ(830000);
	first(s)->landing.step = FREQ_HZ(5000);
	first(s)->landing.error.thirds = 0;
}
static void out_of_reach(struct scene *s)
{
	first(s)->frequency = first(s)->landing.landed = FREQ_KHZ(24000);
	first(s)->landing.error.thirds = 0;
}
static void a_ghost(struct scene *s) { s->suspect[first(s)->channel].is = SUSPECT_GHOST; }
static void a_splatter(struct scene *s) { s->suspect[first(s)->channel].is = SUSPECT_SPLATTER; }
static void never_ends(struct scene *s) { heard(s)->occupancy = 0.95; }
static void scanned_loop(struct scene *s)
{
	which(s, locked)->delay_us = 2000000;
	which(s, locked)->locked = false;
}
static void is_data(struct scene *s) { heard(s)->kind = KIND_DATA; }
static void is_carrier(struct scene *s) { heard(s)->kind = KIND_CARRIER; }
static void is_noise(struct scene *s) { heard(s)->kind = KIND_NOISE; }
static void wrong_mode(struct scene *s) { first(s)->mode = MODE_WFM; }
static void other_name(struct scene *s) { snprintf(which(s, aircraft)->name, 20, "probably aircraft"); }
static void odd_delay(struct scene *s) { first(s)->delay_us = 1234; }
static void no_delay(struct scene *s) { first(s)->delay_us = 0; }
static void short_delay(struct scene *s) { first(s)->delay_us = 2000000; }
static void locked_delay(struct scene *s) { which(s, locked)->delay_us = 2000000; }
static void no_reason(struct scene *s) { first(s)->reason[0] = '\0'; }
static void no_evidence(struct scene *s) { first(s)->evidence[0] = '\0'; }
static void no_name(struct scene *s) { first(s)->name[0] = '\0'; }
static void an_input(struct scene *s) { heard(s)->pair = (struct pair){ PAIR_INPUT, 1, .side = "one" }; }
static void an_output(struct scene *s) { heard(s)->pair = (struct pair){ PAIR_OUTPUT, 1, .side = "one" }; }
static void a_side(struct scene *s) { heard(s)->pair = (struct pair){ PAIR_SIDE, 1, .side = "one" }; }
static void busy_priority(struct scene *s) { s->census->channel[which(s, prior)->channel].occupancy = 0.05; }
static void odd_priority(struct scene *s) { s->census->channel[which(s, prior)->channel].kind = KIND_UNKNOWN; }
static void silent_priority(struct scene *s) { which(s, prior)->channel = -1; }
static void of_no_memory(struct scene *s) { which(s, doubled)->same_as.slot = 33; }
static void of_another(struct scene *s) { which(s, doubled)->same_as = (struct memory_place){ 1, 1 }; }
static void lands_elsewhere(struct scene *s)
{
	struct memory *m = which(s, doubled);
	m->landing.landed.thirds += 3 * 5000;
	m->frequency.thirds += 3 * 5000;
	m->landing.step = FREQ_HZ(5000);
}

/* ---- to the slots and lists ---- */

static void no_such_bank(struct scene *s) { s->plan->memory[s->plan->memories - 1].bank = 11; }
static void no_such_slot(struct scene *s) { s->plan->memory[s->plan->memories - 1].slot = 41; }
static void bank_nought(struct scene *s) { first(s)->bank = 0; }
static void slot_twice(struct scene *s) { first(s)->slot = s->plan->memory[1].slot; }
static void few_scanned(struct scene *s) { s->receiver.live_per_bank = 1; }
static void many_empty(struct scene *s) { s->receiver.empty_per_bank = 39; }
static void two_priorities(struct scene *s)
{
	first(s)->priority = s->plan->memory[1].priority = true;
	s->receiver.priorities = 5;
}
static void one_too_many(struct scene *s) { s->receiver.priorities = 0; }
static void one_frequency(struct scene *s)
{
	s->plan->memory[1].frequency = first(s)->frequency;
	s->plan->memory[1].landing = first(s)->landing;
}
static void lost(struct scene *s) { s->plan->lefts--; }
static void left_and_kept(struct scene *s) { s->plan->left[0].channel = first(s)->channel; }
static void left_for_nothing(struct scene *s) { s->plan->left[0].reason[0] = '\0'; }

/* ---- to the ranges and sets ---- */

static struct search *range(struct scene *s) { return &s->plan->search[0]; }        /* business's */
static void move_range(struct scene *s, int32_t low_khz, int32_t high_khz)
{
	range(s)->low = FREQ_KHZ(low_khz);
	range(s)->high = FREQ_KHZ(high_khz);
	range(s)->sweep_s = scan_sweep_s(range(s)->low, range(s)->high, range(s)->step, s->receiver.scan_rate);
}
static void range_off_step(struct scene *s) { range(s)->low.thirds += 3; }
static void range_ends_off_step(struct scene *s) { range(s)->high.thirds += 3; }
static void range_step(struct scene *s) { range(s)->step = FREQ_HZ(6250); }
static void range_backwards(struct scene *s) { move_range(s, 451000, 450500); }
static void range_of_nothing(struct scene *s) { move_range(s, 451000, 451000); }
static void range_below_band(struct scene *s) { move_range(s, 449900, 451000); }
static void range_above_band(struct scene *s)
{
	int64_t last = raster_last(&world_band[WORLD_BUSINESS].raster).thirds / 3000;
	move_range(s, (int32_t)(last / 25 * 25) - 500, (int32_t)(last / 25 * 25) + 100);
}
static void wrong_sweep(struct scene *s) { range(s)->sweep_s += 1; }
static void range_too_long(struct scene *s)
{
	range(s)->step = FREQ_HZ(5000);
	move_range(s, 451000, 453000);
}
static void range_beyond_reach(struct scene *s)
{
	range(s)->low = FREQ_KHZ(823000);
	range(s)->high = FREQ_KHZ(900000);
}
static void range_cellular(struct scene *s)
{
	s->receiver.reach[0].high = FREQ_KHZ(860000);
	s->census->band[range(s)->band].raster = (struct raster){ FREQ_KHZ(820000), FREQ_KHZ(25), 1000 };
	move_range(s, 823700, 824100);
}
static void range_for_little(struct scene *s) { range(s)->worth = 0; }
static void range_that_sticks(struct scene *s)
{
	range(s)->band = WORLD_AIR;
	range(s)->mode = MODE_AM;
	move_range(s, 126300, 126400);
}
static void range_twice(struct scene *s) { s->plan->search[1] = s->plan->search[0]; }
static void range_shares_its_end(struct scene *s)
{
	move_range(s, 451000, 451500);
	s->plan->search[1] = *range(s);
	s->plan->search[1].low = range(s)->high;
	s->plan->search[1].high.thirds = range(s)->high.thirds + range(s)->step.thirds;
	s->plan->search[1].sweep_s =
		scan_sweep_s(s->plan->search[1].low, s->plan->search[1].high, range(s)->step, s->receiver.scan_rate);
}
static void too_many_ranges(struct scene *s) { s->receiver.search_ranges = s->receiver.ranges_free; }
static void wrong_cycle(struct scene *s) { s->plan->set[0].cycle_s += 1; }
static void wrong_count(struct scene *s) { s->plan->set[0].scanned++; }
static void chatty_beside_fire(struct scene *s)
{
	s->census->channel[which(s, doubled)->channel].hold_share = CHATTY_SHARE + 0.01;
}

static const struct {
	void      (*harm)(struct scene *s);
	const char *says;
} harms[] = {
	{ off_step, "does not land on its step" }, { no_step_of_its, "outside the coverage" },
	{ step_of_nothing, "outside the coverage" }, { wrong_error, "wrong error" }, { far_off, "bank 1 slot 1" },
	{ cellular_memory, "cellular" }, { out_of_reach, "outside the coverage" }, { a_ghost, "is a ghost" },
	{ a_splatter, "is a splatter" }, { never_ends, "continuous and not locked" },
	{ scanned_loop, "continuous and not locked" }, { is_data, "in a scanned slot" },
	{ is_carrier, "in a scanned slot" }, { is_noise, "in a scanned slot" }, { wrong_mode, "wrong mode" },
	{ other_name, "lacks its 8.33 kHz name" }, { odd_delay, "cannot be set" }, { no_delay, "cannot be set" },
	{ short_delay, "shorter than its gaps" }, { locked_delay, "not wanted" }, { no_reason, "no reason" },
	{ no_evidence, "no reason" }, { no_name, "no reason" }, { an_input, "is an input" },
	{ an_output, "does not name" }, { a_side, "does not name" }, { busy_priority, "no fit priority" },
	{ odd_priority, "no fit priority" }, { silent_priority, "no fit priority" }, { of_no_memory, "no second seat" },
	{ of_another, "no second seat" }, { lands_elsewhere, "no second seat" },
	{ no_such_bank, "does not exist" }, { no_such_slot, "does not exist" }, { bank_nought, "does not exist" },
	{ slot_twice, "out of order" }, { few_scanned, "more than 1 scanned" }, { many_empty, "fewer than 39 empty" },
	{ two_priorities, "2 priority channels" }, { one_too_many, "1 priority channels" },
	{ one_frequency, "land on one frequency" }, { lost, "in 0 lists" }, { left_and_kept, "in 2 lists" },
	{ left_for_nothing, "without a reason" },
	{ range_off_step, "end on its step" }, { range_ends_off_step, "end on its step" },
	{ range_step, "leaves the coverage" }, { range_backwards, "leaves the coverage" },
	{ range_of_nothing, "leaves the coverage" }, { range_below_band, "leaves its band" },
	{ range_above_band, "leaves its band" }, { wrong_sweep, "wrong sweep time" }, { range_too_long, "to sweep" },
	{ range_beyond_reach, "leaves the coverage" },
	{ range_cellular, "touches a cellular band" }, { range_for_little, "not worth its time" },
	{ range_that_sticks, "would stick" }, { range_twice, "overlap" }, { range_shares_its_end, "overlap" },
	{ too_many_ranges, "search ranges" }, { wrong_cycle, "wrong cycle" }, { wrong_count, "wrong cycle" },
	{ chatty_beside_fire, "busy channel beside fire" },
};

static void each_harm_is_seen(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof harms / sizeof harms[0]; i++) {
		struct scene s;
		char broken[200];
		good_scene(&s);
		const char *before = plan_check(s.plan, &s.receiver, s.census, s.suspect, broken);
		if (before)
			fail_msg("the plan is not good: %s", before);
		assert_true(s.plan->searches > 1 && s.plan->lefts > 0);
		harms[i].harm(&s);
		const char *told = plan_check(s.plan, &s.receiver, s.census, s.suspect, broken);
		if (!told || !strstr(told, harms[i].says))
			fail_msg("harm %zu, \"%s\": %s", i, harms[i].says, told ? told : "not seen");
		scene_end(&s);
	}
}

/* Slots that are left as the set had them are the listener's own: only a reason is asked for. */
static void what_the_listener_left_is_his(void **state)
{
	(void)state;
	for (int kept = 0; kept < 2; kept++) {
		struct scene s;
		char broken[200];
		good_scene(&s);
		first(&s)->fixed = !kept;
		first(&s)->kept = kept;
		first(&s)->delay_us = 1234;
		first(&s)->mode = MODE_WFM;
		assert_null(plan_check(s.plan, &s.receiver, s.census, s.suspect, broken));
		first(&s)->reason[0] = '\0';
		assert_non_null(plan_check(s.plan, &s.receiver, s.census, s.suspect, broken));
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(each_harm_is_seen),
		cmocka_unit_test(what_the_listener_left_is_his),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
