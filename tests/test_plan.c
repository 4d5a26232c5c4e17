#include "tests/test.h"

#include "tests/plan_world.h"

#include <stdlib.h>
#include <string.h>

enum place { LEFT, LOCKED, SCANNED };

/* One channel of a band, told in a row, and where it must end. */
static const struct {
	const char *why;
	int32_t     band, channel;
	int         exchanges;
	int32_t     level_ddb;
	enum kind   kind;
	enum place  want;
	const char *says;               /* in the reason, when left */
} fates[] = {
	{ "fire, well heard", WORLD_FIRE, 186, 10, 250, KIND_NFM, SCANNED, NULL },
	{ "fire, one exchange: weak but in", WORLD_FIRE, 20, 1, 250, KIND_NFM, SCANNED, NULL },
	{ "business, one exchange: too little", WORLD_BUSINESS, 20, 1, 250, KIND_NFM, LEFT, "heard too little" },
	{ "business, well heard", WORLD_BUSINESS, 50, 10, 250, KIND_NFM, SCANNED, NULL },
	{ "kind not sure, but voice is what its service does", WORLD_BUSINESS, 60, 10, 250, KIND_UNKNOWN,
	  SCANNED, NULL },
	{ "data", WORLD_BUSINESS, 70, 10, 250, KIND_DATA, LEFT, "data" },
	{ "a carrier", WORLD_BUSINESS, 80, 10, 250, KIND_CARRIER, LEFT, "carrier" },
	{ "too weak", WORLD_BUSINESS, 90, 10, 60, KIND_NFM, LEFT, "too weak" },
	{ "paging", WORLD_PAGING, 100, 10, 250, KIND_NFM, LEFT, "nothing to listen to" },
	{ "air, well heard", WORLD_AIR, 10, 10, 250, KIND_AM, SCANNED, NULL },
};

static void fate_by_rule(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof fates / sizeof fates[0]; i++) {
		struct scene s;
		char broken[200];
		scene_begin(&s, world_band, WORLD_BANDS);
		scene_talk(&s, fates[i].band, fates[i].channel, fates[i].exchanges, fates[i].level_ddb,
		     fates[i].kind);
		scene_propose(&s);
		const struct memory *m = scene_memory(&s, fates[i].band, fates[i].channel);
		const char *left = scene_left(&s, fates[i].band, fates[i].channel);
		enum place got = m ? m->locked ? LOCKED : SCANNED : LEFT;
		if (got != fates[i].want ||
		    (fates[i].says && (!left || !strstr(left, fates[i].says))))
			fail_msg("%s: %s", fates[i].why,
				 left ? left
				 : m  ? m->reason
				      : "in no list");
		const char *rule = plan_check(s.plan, &s.receiver, s.census, s.suspect, broken);
		if (rule)
			fail_msg("%s: %s", fates[i].why, rule);
		scene_end(&s);
	}
}

static void a_whole_plan(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	scene_talk(&s, WORLD_FIRE, 186, 20, 300, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 50, 12, 250, KIND_NFM);
	scene_talk(&s, WORLD_BUSINESS, 150, 1, 250, KIND_NFM);
	scene_talk(&s, WORLD_AIR, 397, 30, 250, KIND_AM);
	scene_add(&s, (struct world_over){ WORLD_AIR, 1005, 0, 14399, 250, 0, 6000, KIND_AM, 0 });
	scene_propose(&s);

	const struct memory *fire = scene_memory(&s, WORLD_FIRE, 186);
	assert_non_null(fire);
	assert_int_equal(fire->bank, 1);
	assert_int_equal(fire->slot, 1);
	assert_true(fire->priority);
	assert_int_equal(fire->certainty, CERTAIN_SURE);
	assert_int_equal(fire->delay_us, 4000000);      /* gaps of about 2.4 s: 2 s would miss */
	const struct memory *air = scene_memory(&s, WORLD_AIR, 397);
	assert_non_null(air);
	assert_string_equal(air->name, "121.310, probably aircraft");
	assert_int_equal(air->mode, MODE_AM);
	assert_int_equal(air->landing.landed.thirds, FREQ_KHZ(121310).thirds);
	assert_int_not_equal(air->bank, 1);
	const struct memory *loop = scene_memory(&s, WORLD_AIR, 1005);
	assert_non_null(loop);
	assert_true(loop->locked && loop->delay_us == 0 && loop->bank == 10);
	/* The one heard too little is met by a search range that says so. */
	assert_non_null(strstr(scene_left(&s, WORLD_BUSINESS, 150), "search range"));
	assert_string_equal(s.plan->set[0].name, "everyday");
	/* Neither takes much time: both have a second seat in bank 1, what is wanted more first. */
	assert_int_equal(s.plan->set[0].banks, 1);
	assert_int_equal(s.plan->set[0].scanned, 3);
	const struct memory *business = scene_memory(&s, WORLD_BUSINESS, 50);
	assert_int_equal(s.plan->memory[1].channel, air->channel);
	assert_int_equal(s.plan->memory[1].same_as.bank, air->bank);
	assert_int_equal(s.plan->memory[2].same_as.bank, business->bank);
	assert_int_equal(s.plan->memory[2].same_as.slot, business->slot);
	scene_end(&s);
}

/* Each that was heard too little is told the range that covers it, and no other. */
static void who_is_met_by_which_range(void **state)
{
	static const int32_t lights[] = { 10, 40, 90, 150, 300 };
	struct scene s;
	int covered = 0, left = 0;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	s.receiver.search_ranges = s.receiver.ranges_free + 2;
	for (size_t i = 0; i < sizeof lights / sizeof lights[0]; i++) {
		scene_talk(&s, WORLD_BUSINESS, lights[i], 1, 250, KIND_NFM);
		scene_talk(&s, WORLD_AIR, 2 * lights[i], 1, 250, KIND_AM);
	}
	scene_propose(&s);
	assert_int_equal(s.plan->searches, 2);
	for (int i = 0; i < s.plan->lefts; i++) {
		const struct channel *ch = &s.census->channel[s.plan->left[i].channel];
		const char *told = strstr(s.plan->left[i].reason, "; search range ");
		int in = 0;
		for (int k = s.plan->searches; k > 0; k--)
			if (ch->centre.thirds >= s.plan->search[k - 1].low.thirds &&
			    ch->centre.thirds <= s.plan->search[k - 1].high.thirds)
				in = k;
		assert_int_equal(told ? atoi(told + strlen("; search range ")) : 0, in);
		covered += in > 0;
		left += in == 0;
	}
	print_message("%d covered, %d not\n", covered, left);
	assert_true(covered > 0 && left > 0);
	scene_end(&s);
}

/* Channels 2.5 kHz apart on a set that knows steps of 12.5 kHz: one of two is left, and its slot is another's. */
static void two_that_land_alike(void **state)
{
	struct band fine = { "fire", "Fire", "fire", { FREQ_KHZ(154000), FREQ_HZ(2500), 200 }, MODE_NFM, 2500, { { 0 } } };
	static const int32_t heard[] = { 0, 1, 50, 100 };
	struct scene s;

	(void)state;
	scene_begin(&s, &fine, 1);
	for (int i = 0; i < s.receiver.reaches; i++) {
		s.receiver.reach[i].step[0] = FREQ_HZ(12500);
		s.receiver.reach[i].steps = 1;
	}
	for (int i = 0; i < 4; i++)
		for (int k = 0; k < 40; k++)
			scene_add(&s, (struct world_over){ 0, heard[i], 60 + 300 * k + 60 * i, 5, 300, 0, 2000, KIND_NFM, 0 });
	scene_propose(&s);
	assert_non_null(strstr(scene_left(&s, 0, 1), "lands on the same frequency as 154.000 MHz"));
	assert_int_equal(s.plan->memories, 3);
	for (int i = 0; i < 3; i++)
		if (s.plan->memory[i].slot != i + 1 || s.plan->memory[i].bank != s.plan->memory[0].bank)
			fail_msg("memory %d is in slot %d of bank %d", i, s.plan->memory[i].slot, s.plan->memory[i].bank);
	scene_end(&s);
}

/* Where there is room for one: who is wanted more, whose service is listed before, who is surer, who is lower. */
static void who_gets_the_last_room(void **state)
{
	static const struct {
		const char *why;
		const char *service[2];
		int         exchanges[2];
		bool        pinned;             /* the second                    */
		int         kept;
		int         channel[2];         /* 0: 50 and 90                  */
	} by[] = {
		{ "wanted more", { "business", "rail" }, { 10, 10 }, false, 1, { 0 } },
		{ "though heard less", { "rail", "business" }, { 3, 30 }, false, 0, { 0 } },
		{ "listed before: rail, then air", { "air", "rail" }, { 10, 10 }, false, 1, { 0 } },
		{ "though less sure", { "rail", "air" }, { 2, 10 }, false, 0, { 0 } },
		{ "surer", { "rail", "rail" }, { 2, 10 }, false, 1, { 0 } },
		{ "lower", { "rail", "rail" }, { 10, 10 }, false, 0, { 0 } },
		{ "lower, of a band listed later", { "rail", "rail" }, { 10, 10 }, false, 1, { 90, 50 } },
		{ "pinned", { "rail", "business" }, { 10, 10 }, true, 1, { 0 } },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct band two[2] = { world_band[WORLD_BUSINESS], world_band[WORLD_BUSINESS] };
		struct scene s;
		int at[2] = { by[i].channel[0] ? by[i].channel[0] : 50, by[i].channel[1] ? by[i].channel[1] : 90 };
		struct freq pinned = raster_centre(&two[1].raster, at[1]);
		for (int k = 0; k < 2; k++)
			strcpy(two[k].service, by[i].service[k]);
		strcpy(two[1].id, "second");
		scene_begin(&s, two, 2);
		s.receiver.banks = 1;
		s.receiver.memories = s.receiver.empty_per_bank + 1;
		for (int k = 0; k < 2; k++)
			scene_talk(&s, k, at[k], by[i].exchanges[k], 250, KIND_NFM);
		if (by[i].pinned) {
			s.interests.pinned = malloc(sizeof pinned);
			s.interests.pinned[0] = pinned;
			s.interests.n_pinned = 1;
		}
		scene_propose(&s);
		bool first = scene_memory(&s, 0, at[0]) != NULL, second = scene_memory(&s, 1, at[1]) != NULL;
		if (first != (by[i].kept == 0) || second != (by[i].kept == 1))
			fail_msg("%s: %d %d", by[i].why, first, second);
		assert_non_null(strstr(scene_left(&s, !by[i].kept, at[!by[i].kept]), "no room"));
		scene_end(&s);
	}
}

static void pinned_and_never(void **state)
{
	struct scene s;
	struct freq pinned[] = { FREQ_HZ(451000000), FREQ_HZ(118000000), FREQ_HZ(870000000) };
	struct freq never[] = { FREQ_HZ(450625000) };

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	scene_talk(&s, WORLD_BUSINESS, 80, 1, 250, KIND_NFM); /* 451.000: too little, but pinned */
	scene_talk(&s, WORLD_BUSINESS, 50, 10, 250, KIND_NFM); /* 450.625: never                  */
	s.interests.pinned = malloc(sizeof pinned);
	s.interests.never = malloc(sizeof never);
	memcpy(s.interests.pinned, pinned, sizeof pinned);
	memcpy(s.interests.never, never, sizeof never);
	s.interests.n_pinned = 3;
	s.interests.n_never = 1;
	scene_propose(&s);
	assert_non_null(scene_memory(&s, WORLD_BUSINESS, 80));
	assert_non_null(strstr(scene_left(&s, WORLD_BUSINESS, 50), "never"));
	/* 118.000 was not heard and is there all the same; 870 MHz never is. */
	int unheard = 0;
	for (int i = 0; i < s.plan->memories; i++)
		if (s.plan->memory[i].channel < 0) {
			unheard++;
			assert_int_equal(s.plan->memory[i].frequency.thirds,
					 FREQ_HZ(118000000).thirds);
		}
	assert_int_equal(unheard, 1);
	scene_end(&s);
}

static const struct {
	const char    *why;
	int            exchanges, overs;        /* overs in each           */
	int32_t        level_ddb;
	int            odd;             /* overs that say data, not voice  */
	double         last_s;          /* length of one more over, 0: none */
	enum certainty want;
} evidence[] = {
	{ "ten overs in five exchanges", 5, 2, 120, 0, 0, CERTAIN_SURE },
	{ "nine overs", 9, 1, 300, 0, 0, CERTAIN_LIKELY },
	{ "twelve overs in four exchanges", 4, 3, 300, 0, 0, CERTAIN_LIKELY },
	{ "below 12 dB", 10, 2, 119, 0, 0, CERTAIN_LIKELY },
	{ "70 % agree", 10, 1, 300, 3, 0, CERTAIN_SURE },
	{ "65 % agree", 10, 2, 300, 7, 0, CERTAIN_LIKELY },
	{ "one over was stuck", 10, 2, 300, 0, 1200, CERTAIN_LIKELY },
	{ "three overs in two exchanges and one more", 3, 1, 300, 0, 0, CERTAIN_LIKELY },
	{ "three overs in one exchange", 1, 3, 300, 0, 0, CERTAIN_WEAK },
	{ "two overs", 2, 1, 300, 0, 0, CERTAIN_WEAK },
	{ "nothing ever above 8 dB, were it not for the peak", 10, 2, 79, 0, 0, CERTAIN_WEAK },
};

static void certainty_by_evidence(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof evidence / sizeof evidence[0]; i++) {
		struct freq pinned = FREQ_HZ(154235000);        /* kept whatever the evidence */
		struct scene s;
		int n = 0;
		scene_begin(&s, world_band, WORLD_BANDS);
		s.interests.pinned = malloc(sizeof pinned);
		s.interests.pinned[0] = pinned;
		s.interests.n_pinned = 1;
		for (int e = 0; e < evidence[i].exchanges; e++)
			for (int o = 0; o < evidence[i].overs; o++)
				scene_add(&s, (struct world_over){ WORLD_FIRE, 186, 60 + e * 300 + 7 * o, 5,
					evidence[i].level_ddb, 0, 9000,
					n++ < evidence[i].odd ? KIND_DATA : KIND_NFM, 0 });
		if (evidence[i].last_s > 0)
			scene_add(&s, (struct world_over){ WORLD_FIRE, 186, 9000, evidence[i].last_s,
				300, 0, 9000, KIND_NFM, 0 });
		scene_propose(&s);
		const struct memory *m = scene_memory(&s, WORLD_FIRE, 186);
		if (!m || m->certainty != evidence[i].want)
			fail_msg("%s: %s", evidence[i].why, m ? certainty_name(m->certainty) :
				 scene_left(&s, WORLD_FIRE, 186));
		scene_end(&s);
	}
}

/* A beacon speaks all night, in AM, and loud: nothing to type in all the same. */
static void beacons_are_left_out(void **state)
{
	struct band beacons = { .id = "beacons", .name = "Beacons", .service = "beacon",
				.mode = MODE_AM, .width_hz = 21000,
				.raster = { FREQ_KHZ(108000), FREQ_KHZ(50), 200 } };
	struct scene s;

	(void)state;
	scene_begin(&s, &beacons, 1);
	scene_add(&s, (struct world_over){ 0, 108, 0, 14399, 320, 0, 21000, KIND_AM, 0 });
	scene_propose(&s);
	assert_int_equal(s.plan->memories, 0);
	assert_int_equal(s.plan->searches, 0);
	assert_string_equal(scene_left(&s, 0, 108), "beacon: nothing to listen to");
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(fate_by_rule),
		cmocka_unit_test(a_whole_plan),
		cmocka_unit_test(who_is_met_by_which_range),
		cmocka_unit_test(two_that_land_alike),
		cmocka_unit_test(who_gets_the_last_room),
		cmocka_unit_test(pinned_and_never),
		cmocka_unit_test(certainty_by_evidence),
		cmocka_unit_test(beacons_are_left_out),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
