#include "tests/test.h"

#include "tests/plan_world.h"
#include "tools/plan/attenuator.h"
#include "tools/plan/rise.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* What is measured, how strong the weakest wanted one is, and what is advised. */
static const struct {
	const char *why;
	double      attenuator_db;
	bool        ghost;              /* put to the proof: made of others          */
	bool        overload;           /* in every second hour                      */
	int32_t     rise_ddb;           /* of the noise, with it                     */
	int32_t     weakest_ddb;        /* of two that are scanned; the other: 30 dB */
	enum advice want;
	int         lost;
	const char *words;
} rows[] = {
	{ "no attenuator", 0, true, true, 100, 300, ADVICE_NO_SUCH, 0, "none: this receiver has no attenuator" },
	{ "nothing measured", 10, false, false, 0, 300, ADVICE_OFF, 0,
	  "off: no channel was mixed from strong ones, and the dongle was not overloaded" },
	{ "overload alone is none", 10, false, true, 0, 300, ADVICE_OFF, 0, "the noise did not rise" },
	{ "nor does 2.9 dB of noise count", 10, false, true, 29, 300, ADVICE_OFF, 0, "the noise did not rise" },
	{ "noise of 3 dB does", 10, false, true, 30, 300, ADVICE_ON, 0, "there is noise that rises by 3 dB with overload" },
	{ "a noise that rises without overload is another's", 10, false, false, 100, 300, ADVICE_OFF, 0,
	  "the dongle was not overloaded" },
	{ "a ghost", 10, true, false, 0, 300, ADVICE_ON, 0,
	  "on: there is 1 channel that strong stations mixed in the dongle, the strongest on 451.500 MHz; 10 dB less "
	  "takes 30 dB from what is mixed, and all 2 scanned memories stay at 10 dB or more" },
	{ "whoever stays at 10 dB is kept", 10, true, false, 0, 200, ADVICE_ON, 0, "on: " },
	{ "and who does not is named", 10, true, false, 0, 197, ADVICE_OFF_LOSES, 1,
	  "but 10 dB less would leave 1 of 2 scanned memories below 10 dB" },
	{ "20 dB take more", 20, true, false, 0, 250, ADVICE_OFF_LOSES, 1, "20 dB less would leave 1 of 2" },
	{ "both", 10, true, true, 60, 150, ADVICE_OFF_LOSES, 1, "451.500 MHz, and noise that rises by 6 dB with" },
};

/* Four more hours, every second one as the row says. */
static void look_again(struct scene *s, bool overload, int32_t rise_ddb)
{
	for (int h = 4; h < 8; h++) {
		struct coverage_row c = world_coverage(WORLD_BUSINESS, h);
		c.band = 0;
		c.clipped = overload && h % 2 ? c.looks / 50 : 0;
		c.floor_ddb_sum += h % 2 ? rise_ddb * c.looks : 0;
		assert_int_equal(tally_coverage(s->tally, &c), 0);
	}
}

static void advice_by_what_was_measured(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct artefact_row mixed = { .run = 1, .at_us = NIGHT_US, .band = 0, .channel = 120,
					      .cause = "product", .text = "2 x 450.625 - 449.750" };
		struct scene s;
		scene_begin(&s, &world_band[WORLD_BUSINESS], 1);
		s.receiver.attenuator_db = rows[i].attenuator_db;
		look_again(&s, rows[i].overload, rows[i].rise_ddb);
		/* Calm hours have less noise, of which the loud ones' rise is told. */
		for (int k = 0; k < 30; k++) {
			scene_add(&s, (struct world_over){ 0, 50, 60 + 400 * k, 5, 300, 0, 9000, KIND_NFM, 0 });
			scene_add(&s, (struct world_over){ 0, 80, 160 + 400 * k, 5, rows[i].weakest_ddb, 0, 9000,
				KIND_NFM, 0 });
			if (rows[i].ghost)
				scene_add(&s, (struct world_over){ 0, 120, 260 + 400 * k, 5, 200, 0, 9000, KIND_NFM, 0 });
		}
		if (rows[i].ghost)
			assert_int_equal(tally_artefact(s.tally, &mixed), 0);
		scene_propose(&s);
		const struct attenuator *a = &s.plan->attenuator;
		if (a->is != rows[i].want || a->losts != rows[i].lost || !strstr(a->text, rows[i].words))
			fail_msg("%s: %s, %d lost: %s", rows[i].why, advice_name(a->is), a->losts, a->text);
		if (a->losts == 1)
			assert_int_equal(s.census->channel[s.plan->memory[a->lost[0]].channel].channel, 80);
		scene_end(&s);
	}
}

/* Weakest first, of those as strong as each other the plan's first; each once, and no locked one nor one of which nothing
 * was heard. */
static void the_lost_by_strength(void **state)
{
	static const struct { double level_db; bool locked; int same_as; } by[] = {
		{ 15, false, 0 }, { 19, false, 0 }, { 12, false, 0 }, { 20, false, 0 }, { 15, false, 0 },
		{ 3, true, 0 }, { 9, false, 0 }, { 12, false, 1 }, { 19.9, false, 0 },
	};
	enum { MEMORIES = sizeof by / sizeof by[0] };
	static const int want[] = { 6, 2, 0, 4, 1, 8 };
	struct channel channel[MEMORIES] = { 0 };
	struct memory memory[MEMORIES + 1] = { 0 };
	struct suspect suspect[MEMORIES] = { 0 };
	const struct census c = { .channel = channel, .channels = MEMORIES };
	const struct plan p = { .memory = memory, .memories = MEMORIES + 1 };
	const struct receiver r = { .attenuator_db = 10 };
	struct attenuator a;

	(void)state;
	for (int i = 0; i < MEMORIES; i++) {
		channel[i].level_db = by[i].level_db;
		memory[i] = (struct memory){ .bank = 1, .slot = i + 1, .channel = i, .locked = by[i].locked,
					     .same_as.bank = by[i].same_as };
	}
	memory[MEMORIES].channel = -1;
	assert_int_equal(attenuator_advise(&c, suspect, &r, &p, &a), 0);
	assert_int_equal(a.scanned, 7);
	assert_int_equal(a.losts, 6);
	assert_memory_equal(a.lost, want, sizeof want);
	attenuator_free(&a);
}

/* Parts of a band are only held against themselves: that one is nearer to a strong station is
 * no rise. */
static void parts_are_not_mixed(void **state)
{
	struct rise r = { 0 };
	struct coverage_row row = { .first = 0, .looks = 100, .floor_ddb_sum = -70000 };

	(void)state;
	assert_int_equal(rise_note(&r, &row), 0);
	row = (struct coverage_row){ .first = 80, .looks = 100, .floor_ddb_sum = -40000, .clipped = 90 };
	assert_int_equal(rise_note(&r, &row), 0);
	assert_true(rise_most(&r) == 0);
	row.clipped = 0;
	row.floor_ddb_sum = -45000;
	assert_int_equal(rise_note(&r, &row), 0);
	assert_true(fabs(rise_most(&r) - 5) < 1e-9);
	rise_free(&r);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(advice_by_what_was_measured),
		cmocka_unit_test(the_lost_by_strength),
		cmocka_unit_test(parts_are_not_mixed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
