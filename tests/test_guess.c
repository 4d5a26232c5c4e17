/* Who a user probably is: from clues, from overs, and in a plan. Which clues tell what is
 * common practice; the channels known everywhere are those of ICAO Annex 10 and of
 * appendix 18 of the ITU Radio Regulations, from memory. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tools/plan/guess.h"

#define MHZ(mhz) FREQ_HZ((mhz) * 1e6 + 0.5)

static const struct {
	const char  *about;
	struct clues clues;
	const char  *who, *second;      /* NULL: no second */
} rows[] = {
	{ "nothing but the band plan",
	  { "fire", "fire", MHZ(154.235), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_UNKNOWN },
	  "fire", NULL },
	{ "always as strong",
	  { "fire", "fire", MHZ(154.235), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_TONE, PAIR_NONE, SPEAKERS_ONE },
	  "fire, base or repeater", "fire" },
	{ "as strong, but nobody talks yet",
	  { "fire", "fire", MHZ(154.235), KIND_NFM, false, SHAPE_UNKNOWN, 4,
	    BELOW_TONE, PAIR_NONE, SPEAKERS_ONE },
	  "fire", NULL },
	{ "near and far",
	  { "fire", "fire", MHZ(154.2725), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_SEVERAL },
	  "fire, cars or handhelds", "fire" },
	{ "neither",
	  { "fire", "fire", MHZ(154.2725), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_UNKNOWN },
	  "fire", NULL },
	{ "time for answers, but none",
	  { "works", "public works", MHZ(158.805), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_NOTHING, PAIR_NONE, SPEAKERS_HALF },
	  "public works, one side only", "public works" },
	{ "its input was heard, which says more than its strength",
	  { "police", "police", MHZ(460.1375), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_TONE, PAIR_OUTPUT, SPEAKERS_ONE },
	  "police repeater", "police, base or repeater" },
	{ "an input",
	  { "police", "police", MHZ(465.1375), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_TONE, PAIR_INPUT, SPEAKERS_SEVERAL },
	  "police on a repeater's input", "police, cars or handhelds" },
	{ "a loop among aircraft",
	  { "air", "aircraft", MHZ(126.375), KIND_AM, false, SHAPE_ALWAYS, 0,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "aerodrome's recording", "aircraft" },
	{ "FM among aircraft",
	  { "air", "aircraft", MHZ(120.1), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "no aircraft", "aircraft" },
	{ "emergency, ICAO",
	  { "air", "aircraft", MHZ(121.5), KIND_AM, false, SHAPE_UNKNOWN, 4,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "aircraft emergency", "aircraft" },
	{ "calling, appendix 18",
	  { "marine", "ships", MHZ(156.8), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_NOTHING, PAIR_NONE, SPEAKERS_UNKNOWN },
	  "ships' calling, channel 16", "ships" },
	{ "the same where no ships are",
	  { "business", "business", MHZ(156.8), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_NOTHING, PAIR_NONE, SPEAKERS_UNKNOWN },
	  "business", NULL },
	{ "positions, appendix 18",
	  { "marine", "ships", MHZ(162.025), KIND_DATA, false, SHAPE_BURSTS, 0.1,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_SEVERAL },
	  "ships' positions", "ships" },
	{ "control channel",
	  { "trunked", "trunked system", MHZ(856.2375), KIND_DATA, false, SHAPE_ALWAYS, 0,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "trunked system's control channel", "trunked system" },
	{ "traffic channel",
	  { "trunked", "trunked system", MHZ(857.2375), KIND_DATA, false, SHAPE_TALK, 4,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "trunked system's traffic channel", "trunked system" },
	{ "digital voice",
	  { "police", "police", MHZ(460.5375), KIND_DATA, true, SHAPE_TALK, 4,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "police, digital voice", "data of police" },
	{ "data with a period",
	  { "telemetry", "telemetry", MHZ(173.2375), KIND_DATA, false, SHAPE_PERIODIC, 0.5,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "telemetry or a beacon", "telemetry" },
	{ "packets",
	  { "amateur", "amateur", MHZ(145.01), KIND_DATA, false, SHAPE_BURSTS, 0.9,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_UNKNOWN },
	  "amateur packets", "amateur" },
	{ "long overs with a tone",
	  { "amateur", "amateur", MHZ(146.835), KIND_NFM, false, SHAPE_TALK, 22,
	    BELOW_TONE, PAIR_NONE, SPEAKERS_ONE },
	  "amateur repeater", "amateur" },
	{ "short ones with a tone",
	  { "amateur", "amateur", MHZ(146.835), KIND_NFM, false, SHAPE_TALK, 5,
	    BELOW_TONE, PAIR_NONE, SPEAKERS_ONE },
	  "amateur", NULL },
	{ "long ones without",
	  { "amateur", "amateur", MHZ(146.55), KIND_NFM, false, SHAPE_TALK, 22,
	    BELOW_NOTHING, PAIR_NONE, SPEAKERS_ONE },
	  "amateur", NULL },
	{ "without, near and far",
	  { "amateur", "amateur", MHZ(146.55), KIND_NFM, false, SHAPE_TALK, 22,
	    BELOW_NOTHING, PAIR_NONE, SPEAKERS_SEVERAL },
	  "amateur, direct", "amateur" },
	{ "a voice among pagers",
	  { "paging", "paging", MHZ(152.66), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_TONE, PAIR_NONE, SPEAKERS_ONE },
	  "somebody in a paging band", "paging" },
	{ "a carrier and nothing more",
	  { "business", "business", MHZ(460.8), KIND_CARRIER, false, SHAPE_ALWAYS, 0,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_ONE },
	  "a beacon, or a fault", "business" },
	{ "a name of the user's own, and long",
	  { "fire", "the fire brigade of the county", MHZ(154.235), KIND_NFM, false, SHAPE_TALK, 4,
	    BELOW_TONE,
	    PAIR_NONE, SPEAKERS_ONE }, "the fire brigade of the county, base or repeater", "the fire brigade of the county" },
	{ "a service nobody knows",
	  { "", "unknown user", MHZ(170.0), KIND_UNKNOWN, false, SHAPE_UNKNOWN, 0,
	    BELOW_UNKNOWN, PAIR_NONE, SPEAKERS_UNKNOWN },
	  "unknown user", NULL },
};

static void clues_tell(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct guess g[GUESSES] = { 0 };
		char words[GUESS_WORDS];
		int n = guess_who(&rows[i].clues, g);
		if (strcmp(g[0].who, rows[i].who) != 0 || (n > 1) != (rows[i].second != NULL) ||
		    (n > 1 && strcmp(g[1].who, rows[i].second) != 0))
			fail_msg("%s: %d guesses: %s", rows[i].about, n, guess_words(g, n, words));
		for (int k = 0; k < n; k++)
			assert_true(g[k].why && g[k].why[0]);
		if (strncmp(guess_words(g, n, words), "probably ", 9) != 0)
			fail_msg("%s: \"%s\"", rows[i].about, words);
	}
}

/* One guess and what it is made from, as a person reads it. */
static void words_say_why(void **state)
{
	struct guess g[GUESSES];
	char words[GUESS_WORDS];
	struct clues k = rows[6].clues;

	(void)state;
	int n = guess_who(&k, g);
	assert_string_equal(guess_words(g, n, words), "probably police repeater (its input was heard too, "
			    "keyed with it), or police, base or repeater, or police");
	assert_string_equal(guess_words(g, 1, words), "probably police repeater");
}

/* What a channel's figures are as clues. */
static void clues_of_a_channel(void **state)
{
	static const struct interest fire = { .service = "fire", .title = "brigade" }, unnamed = { .title = "unknown user" };
	struct band band = world_band[WORLD_BUSINESS];
	struct channel ch = { .centre = MHZ(154.235), .kind = KIND_NFM, .confidence = 1, .over_s = 4 };
	const struct census c = { .band = &band, .bands = 1, .channel = &ch, .channels = 1 };

	(void)state;
	assert_string_equal(guess_clues(&c, 0, &fire).service, "fire");
	assert_string_equal(guess_clues(&c, 0, &unnamed).service, band.service);
	assert_int_equal(guess_clues(&c, 0, &fire).kind, KIND_NFM);
	ch.confidence = 0.1;
	assert_int_equal(guess_clues(&c, 0, &fire).kind, KIND_UNKNOWN);
	/* Below speech: as the user heard most has it, when any is believed. */
	static const struct { int believed; int32_t tone_ddhz; int code; enum below below; } by[] = {
		{ 0, 1000, 0, BELOW_UNKNOWN }, { 1, 1000, 0, BELOW_TONE }, { 2, 1000, 0, BELOW_TONE }, { 1, 0, 023, BELOW_CODE },
		{ 1, 0, 0, BELOW_NOTHING },
	};
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		ch.nature.believed = by[i].believed;
		ch.nature.users.user[0].tone_ddhz = by[i].tone_ddhz;
		ch.nature.users.user[0].code = by[i].code;
		assert_int_equal(guess_clues(&c, 0, &fire).below, by[i].below);
	}
	/* Without a shape that was measured: by how much and how long it is on. */
	static const struct { double occupancy, over_s; int overs, exchanges; enum shape shape; } as[] = {
		{ CONTINUOUS_SHARE + 0.01, 4, 9, 9, SHAPE_ALWAYS }, { CONTINUOUS_SHARE, 4, 9, 9, SHAPE_TALK },
		{ 0.1, 4, 2, 2, SHAPE_UNKNOWN }, { 0.1, 4, 3, 1, SHAPE_UNKNOWN }, { 0.1, 4, 3, 2, SHAPE_TALK },
		{ 0.1, 0.2, 9, 9, SHAPE_BURSTS }, { 0.1, 0, 9, 9, SHAPE_TALK },
	};
	for (size_t i = 0; i < sizeof as / sizeof as[0]; i++) {
		ch.occupancy = as[i].occupancy;
		ch.over_s = as[i].over_s;
		ch.overs = as[i].overs;
		ch.exchanges = as[i].exchanges;
		assert_int_equal(guess_clues(&c, 0, &fire).shape, as[i].shape);
	}
	ch.traffic.shape = SHAPE_PERIODIC;
	assert_int_equal(guess_clues(&c, 0, &fire).shape, SHAPE_PERIODIC);
}

/* Overs make the clues: equal ones a base, scattered ones cars; a plan says so, and says what
 * the listener calls it where he does. */
static void a_plan_says_who(void **state)
{
	static const struct known name = { .frequency = { INT64_C(3) * 153875000 }, .service = "fire",
					   .name = "Brigade" };
	struct scene s;

	(void)state;
	scene_begin(&s, world_band, WORLD_BANDS);
	s.interests.known = malloc(sizeof name);
	s.interests.known[0] = name;
	s.interests.knowns = 1;
	for (int e = 0; e < 30; e++) {
		scene_add(&s, (struct world_over){ WORLD_FIRE, 100, 60 + 400 * e, 5, 300, 0, 9000, KIND_NFM, 0 });
		scene_add(&s, (struct world_over){ WORLD_FIRE, 140, 90 + 400 * e, 5, 150 + 30 * (e % 8), 0, 9000,
						   KIND_NFM, 0 });
		scene_add(&s, (struct world_over){ WORLD_FIRE, 42, 120 + 400 * e, 5, 300, 0, 9000, KIND_NFM, 0 });
	}
	scene_propose(&s);
	const struct memory *base = scene_memory(&s, WORLD_FIRE, 100), *cars = scene_memory(&s, WORLD_FIRE, 140),
			    *called = scene_memory(&s, WORLD_FIRE, 42);
	assert_true(base && cars && called);
	assert_string_equal(base->name, "probably fire, base or repeater");
	assert_string_equal(base->guess, "guessed: always as strong: one fixed station");
	assert_string_equal(cars->name, "probably fire, cars or handhelds");
	assert_int_equal(called->frequency.thirds, name.frequency.thirds);
	assert_string_equal(called->name, "Brigade");
	assert_string_equal(called->guess, "");
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(clues_tell),
		cmocka_unit_test(words_say_why),
		cmocka_unit_test(clues_of_a_channel),
		cmocka_unit_test(a_plan_says_who),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
