#include "tests/test.h"

#include "tests/census_world.h"

#include <math.h>

static void counts(void **state)
{
	struct night n;

	(void)state;
	night_begin(&n, 60, 2);
	for (int i = 0; i < 6; i++)     /* two exchanges of three, 5 s each, 2 s apart */
		night_add(&n, (struct world_over){ WORLD_FIRE, 186, 100 + i / 3 * 600 + i % 3 * 7, 5,
					     200 + i * 10, 400, 11000, KIND_NFM, 1000 });
	night_add(&n, (struct world_over){ WORLD_FIRE, 50, 30, 5, 30, 0, 11000, KIND_NFM, 0 });
	struct census *c = night_end(&n);
	const struct channel *ch = channel_at(c, WORLD_FIRE, 186);

	assert_non_null(ch);
	assert_int_equal(c->channels, 1);       /* peak 5 dB is under the squelch */
	assert_int_equal(ch->overs, 6);
	assert_int_equal(ch->exchanges, 2);
	assert_int_equal(ch->looks.looks, 7200);
	assert_int_equal(ch->looks.busy, 30);
	assert_int_equal(ch->looked_us, INT64_C(7200) * 20000);
	assert_true(fabs(ch->occupancy - 30.0 / 7200) < 1e-9);
	assert_true(ch->likely.low < ch->occupancy && ch->occupancy < ch->likely.high);
	assert_true(fabs(ch->level_db - 22.5) < 1e-9 && fabs(ch->peak_db - 27) < 1e-9);
	assert_int_equal(ch->kind, KIND_NFM);
	assert_true(fabs(ch->tone_hz - 100) < 1e-9);
	assert_int_equal(c->looked[WORLD_FIRE].hours, 2);
	assert_true(fabs(c->looked[WORLD_FIRE].revisit_s - 1) < 1e-3);
	census_destroy(c);
}

/* Raising the squelch only takes away. */
static void squelch_takes_away(void **state)
{
	int overs = 1000;
	double busy = 2;

	(void)state;
	for (int squelch = 0; squelch <= 300; squelch += 60) {
		struct night n;
		night_begin(&n, squelch, 1);
		for (int i = 0; i < 30; i++)
			night_add(&n, (struct world_over){ WORLD_BUSINESS, 40, 60 + i * 40, 5, i * 10, 0,
						     11000, KIND_NFM, 0 });
		struct census *c = night_end(&n);
		const struct channel *ch = channel_at(c, WORLD_BUSINESS, 40);
		assert_true((ch ? ch->overs : 0) <= overs);
		assert_true((ch ? ch->occupancy : 0) < busy);
		overs = ch ? ch->overs : 0;
		busy = ch ? ch->occupancy : 0;
		census_destroy(c);
	}
}

/* Blind time is neither quiet nor busy: it is not looked. */
static void blind_is_not_looked(void **state)
{
	struct night n;
	struct activity_row blind = { .run = 1,
				      .hour = NIGHT_US,
				      .band = WORLD_FIRE,
				      .channel = 186,
				      .blind_looks = 1800,
				      .blind_us = INT64_C(1800) * 20000 };

	(void)state;
	night_begin(&n, 60, 1);
	night_add(&n, (struct world_over){ WORLD_FIRE, 186, 100, 18, 200, 0, 11000, KIND_NFM, 0 });
	assert_int_equal(tally_activity(n.tally, &blind), 0);
	struct census *c = night_end(&n);
	assert_int_equal(channel_at(c, WORLD_FIRE, 186)->looks.looks, 1800);
	assert_true(fabs(channel_at(c, WORLD_FIRE, 186)->occupancy - 0.01) < 1e-9);
	census_destroy(c);
}

static const struct {
	const char *why;
	int32_t     apart;              /* channels of 2.5 kHz from the busy one       */
	int32_t     offset_hz;          /* of the lesser's overs from its own centre   */
	int         lesser;             /* its overs                                   */
	double      shift_s, length_s;  /* after the busy one's overs began            */
	bool        folded;
} folds[] = {
	{ "the centroid strayed one channel", 1, -2000, 4, 10, 2, true },
	{ "two channels, still within half the width", 2, -1000, 4, 10, 2, true },
	{ "another emission 15 kHz away", 6, 0, 4, 10, 2, false },
	{ "its overs are not at the other's place", 2, 2000, 4, 10, 2, false },
	{ "both on at once for long", 1, -2000, 4, 1, 4, false },
	{ "a stray look while the other's over goes on", 1, -2000, 4, 2, 1, true },
	{ "half as busy is a user of its own", 1, -2000, 10, 10, 2, false },
};

static void folding(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof folds / sizeof folds[0]; i++) {
		struct night n;
		night_begin(&n, 60, 1);
		for (int k = 0; k < 20; k++)
			night_add(&n, (struct world_over){ WORLD_FIRE, 100, 60 + k * 60, 5, 250, 500,
						     11000, KIND_NFM, 0 });
		for (int k = 0; k < folds[i].lesser; k++)
			night_add(&n,
			    (struct world_over){ WORLD_FIRE, 100 + folds[i].apart,
						 60 + k * 60 + folds[i].shift_s, folds[i].length_s,
						 240, folds[i].offset_hz, 11000, KIND_NFM, 0 });
		struct census *c = night_end(&n);
		int want = folds[i].folded ? 20 + folds[i].lesser : 20;
		if (channel_at(c, WORLD_FIRE, 100)->overs != want ||
		    c->channels != (folds[i].folded ? 1 : 2))
			fail_msg("%s: %d overs on %d channels", folds[i].why,
				 channel_at(c, WORLD_FIRE, 100)->overs, c->channels);
		if (c->overs != 20 + folds[i].lesser)
			fail_msg("%s: overs were lost", folds[i].why);
		census_destroy(c);
	}
}

/* So many overs of a look each say so. */
static const struct {
	const char *why;
	int         carrier, am, nfm, data, unknown;
	int         looks;              /* of each over */
	enum kind   want;
} votes[] = {
	{ "all agree", 0, 0, 6, 0, 0, 5, KIND_NFM },
	{ "two thirds agree", 0, 0, 4, 2, 0, 5, KIND_NFM },
	{ "half and half is not sure", 0, 0, 3, 3, 0, 5, KIND_UNKNOWN },
	{ "two overs are too few", 0, 2, 0, 0, 0, 5, KIND_UNKNOWN },
	{ "the unsure ones do not outvote", 0, 3, 0, 0, 17, 5, KIND_AM },
	{ "overs of a single look count", 0, 0, 3, 0, 0, 1, KIND_NFM },
	{ "one long over is as good as three", 0, 0, 1, 0, 0, 30, KIND_NFM },
	{ "a voice pauses on its carrier: such overs abstain", 15, 4, 0, 0, 0, 1, KIND_AM },
	{ "as many pauses as words, in FM", 8, 0, 8, 0, 4, 1, KIND_NFM },
	{ "below 15 % the odd ones are errors", 18, 2, 0, 0, 0, 1, KIND_CARRIER },
	{ "a bare carrier", 20, 0, 0, 0, 0, 1, KIND_CARRIER },
	{ "pauses do not settle what the words leave open", 10, 0, 3, 3, 0, 1, KIND_UNKNOWN },
};

static void kind_by_vote(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof votes / sizeof votes[0]; i++) {
		const int of[KIND_COUNT] = {
			[KIND_UNKNOWN] = votes[i].unknown, [KIND_CARRIER] = votes[i].carrier,
			[KIND_AM] = votes[i].am, [KIND_NFM] = votes[i].nfm, [KIND_DATA] = votes[i].data,
		};
		struct night n;
		int at_s = 0;
		night_begin(&n, 60, 1);
		for (int k = 0; k < KIND_COUNT; k++)
			for (int v = 0; v < of[k]; v++)
				night_add(&n, (struct world_over){ WORLD_BUSINESS, 9, at_s += 60,
					votes[i].looks, 250, 0, 11000, (enum kind)k, 0 });
		struct census *c = night_end(&n);
		const struct channel *ch = channel_at(c, WORLD_BUSINESS, 9);
		if (ch->kind != votes[i].want || (ch->kind == KIND_UNKNOWN) != (ch->agreed == 0))
			fail_msg("%s: got %s, %.2f agree", votes[i].why, kind_name(ch->kind),
				 ch->agreed);
		census_destroy(c);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(counts),
		cmocka_unit_test(squelch_takes_away),
		cmocka_unit_test(blind_is_not_looked),
		cmocka_unit_test(folding),
		cmocka_unit_test(kind_by_vote),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
