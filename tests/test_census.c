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
	assert_int_equal(nature_tone_ddhz(&ch->nature), 1000);
	assert_int_equal(c->looked[WORLD_FIRE].hours, 2);
	assert_true(fabs(c->looked[WORLD_FIRE].revisit_s - 1) < 1e-3);
	census_destroy(c);
}

/* An over with ends as they are known: swept ones by a second or two, parked ones well. */
static void add_over(struct night *n, double at_s, double length_s, double before_s, double after_s)
{
	const struct world_over o = { WORLD_FIRE, 186, at_s, length_s, 200, 0, 11000, KIND_NFM, 0 };
	struct transmission_row row = world_transmission(&o);

	row.last_us = row.first_us + (int64_t)(length_s * 1e6);
	row.before_us = (int64_t)(before_s * 1e6);
	row.after_us = (int64_t)(after_s * 1e6);
	assert_int_equal(tally_transmission(n->tally, &row), 0);
}

static const struct {
	const char *why;
	int    swept, parked;           /* overs: of 10 s, ends 1.5 s out; of 3 s, seen to begin */
	double after_s;                 /* where the ends of the parked ones lie                 */
	double over_s;
} heard[] = {
	{ "sweeps alone", 12, 0, 0, 11.5 },
	{ "parks alone", 0, 12, 0.01, 3.01 },
	{ "enough from parks: what sweeps met is longer than usual", 12, 8, 0.01, 3.01 },
	{ "too few from parks", 12, 7, 0.01, (12 * 11.5 + 7 * 3.01) / 19 },
	{ "begun in a park, gone on after it: no shorter for that", 12, 8, 2, 4.005 },
	{ "an end never seen is no length", 12, 8, -1e-6, (12 * 11.5 + 8 * 3.005) / 20 },
};

static void lengths_from_overs_seen_to_begin(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof heard / sizeof heard[0]; i++) {
		struct night n;
		night_begin(&n, 60, 2);
		for (int k = 0; k < heard[i].swept; k++)
			add_over(&n, 100 + 60 * k, 10, 1.5, 1.5);
		for (int k = 0; k < heard[i].parked; k++)
			add_over(&n, 2000 + 60 * k, 3, 0.01, heard[i].after_s);
		struct census *c = night_end(&n);
		double got = channel_at(c, WORLD_FIRE, 186)->over_s;
		if (fabs(got - heard[i].over_s) > 1e-3)
			fail_msg("%s: %.3f s, want %.3f s", heard[i].why, got, heard[i].over_s);
		census_destroy(c);
	}
}

static const struct {
	const char *why;
	int    gaps;                    /* of 2 s, after overs whose end was seen   */
	double before_s;                /* where the next one's beginning lies      */
	int    swept;                   /* of 6 s, both sides 0.4 s out             */
	double gap_s;
} gaps[] = {
	{ "none are known", 0, 0, 4, 0 },
	{ "well known by sweeps", 0, 0, 6, 6.4 },
	{ "seen to begin and to end", 6, 0.01, 6, 2.005 },
	{ "seen to begin, ended by a sweep", 6, 2, 6, 3.005 },
	{ "by too slow a sweep", 6, 4, 6, 6.4 },
	{ "too few seen", 4, 0.01, 6, 6.4 },
};

static void gaps_from_overs_seen_to_end(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof gaps / sizeof gaps[0]; i++) {
		struct night n;
		night_begin(&n, 60, 2);
		for (int k = 0; k < gaps[i].gaps; k++) {
			add_over(&n, 100 + 60 * k, 3, 0.01, 0.001);
			add_over(&n, 105 + 60 * k, 3, gaps[i].before_s, 10);
		}
		for (int k = 0; k < gaps[i].swept; k++) {
			add_over(&n, 2000 + 60 * k, 3, 0.4, 0.4);
			add_over(&n, 2009 + 60 * k, 3, 0.4, 0.4);
		}
		struct census *c = night_end(&n);
		double got = channel_at(c, WORLD_FIRE, 186)->gap_s;
		if (fabs(got - gaps[i].gap_s) > 0.01)
			fail_msg("%s: %.3f s, want %.3f s", gaps[i].why, got, gaps[i].gap_s);
		census_destroy(c);
	}
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

/* A burst that fills half of the looks that met it was on for half as long as they were: so is the interval. */
static void bursts_fill_part_of_a_look(void **state)
{
	static const int overs[] = { 1, 20 };

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		struct interval whole = { 0, 0 };
		for (int part = 1; part <= 2; part++) {
			struct night n;
			night_begin(&n, 60, 1);
			for (int k = 0; k < overs[i]; k++) {
				const struct world_over o = { WORLD_FIRE, 100, 60 + k * 60, 1, 250, 0, 11000, KIND_DATA, 0 };
				struct transmission_row t = world_transmission(&o);
				struct activity_row a = world_activity(&o);
				t.busy_us /= part;
				a.busy_us /= part;
				a.level[25] /= part;
				assert_int_equal(tally_transmission(n.tally, &t), 0);
				assert_int_equal(tally_activity(n.tally, &a), 0);
			}
			struct census *c = night_end(&n);
			const struct channel *ch = channel_at(c, WORLD_FIRE, 100);
			assert_true(fabs(ch->occupancy - overs[i] / 3600.0 / part) < 1e-9);
			if (part == 1)
				whole = ch->likely;
			assert_true(fabs(ch->likely.low * part - whole.low) < 1e-9);
			assert_true(fabs(ch->likely.high * part - whole.high) < 1e-9);
			census_destroy(c);
		}
	}
}

/* What the looks showed hour by hour goes with the overs of one that is folded into its neighbour: there it was
 * blind to nobody. Others keep theirs. */
static void accounts_are_folded_too(void **state)
{
	struct night n = { tally_create(world_band, WORLD_BANDS, 60) };
	struct run_row run = night_run(1);
	struct coverage_row cover = world_coverage(WORLD_FIRE, 0);
	int busy[3] = { 0 }, blind[3] = { 0 };

	(void)state;
	assert_non_null(n.tally);
	tally_hourly(n.tally);
	assert_int_equal(tally_run(n.tally, &run), 0);
	assert_int_equal(tally_coverage(n.tally, &cover), 0);
	for (int k = 0; k < 20; k++)
		night_add(&n, (struct world_over){ WORLD_FIRE, 100, 60 + k * 60, 5, 250, 500, 11000, KIND_NFM, 0 });
	night_add(&n, (struct world_over){ WORLD_FIRE, 101, 60, 2, 240, -2000, 11000, KIND_NFM, 0 });
	night_add(&n, (struct world_over){ WORLD_FIRE, 200, 60, 3, 240, 0, 11000, KIND_NFM, 0 });
	for (int which = 0; which < 3; which++) {
		struct activity_row a = { .run = 1, .hour = NIGHT_US, .band = WORLD_FIRE,
					  .channel = which == 2 ? 200 : 100 + which, .blind_looks = 7 };
		assert_int_equal(tally_activity(n.tally, &a), 0);
	}
	struct census *c = night_end(&n);
	assert_int_equal(c->folded, 1);
	for (int i = 0; i < c->accounts; i++) {
		int which = c->account[i].channel == 200 ? 2 : c->account[i].channel - 100;
		assert_in_range(which, 0, 2);
		assert_true(i == 0 || c->account[i].channel >= c->account[i - 1].channel);
		busy[which] += c->account[i].busy;
		blind[which] += c->account[i].blind;
	}
	assert_true(busy[0] == 102 && busy[1] == 0 && busy[2] == 3);
	assert_true(blind[0] == 7 && blind[1] == 0 && blind[2] == 7);
	census_destroy(c);
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
	{ "two of data alone are enough", 0, 0, 0, 2, 9, 1, KIND_DATA },
	{ "not beside one of speech", 0, 0, 1, 2, 0, 1, KIND_UNKNOWN },
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
		cmocka_unit_test(lengths_from_overs_seen_to_begin),
		cmocka_unit_test(gaps_from_overs_seen_to_end),
		cmocka_unit_test(squelch_takes_away),
		cmocka_unit_test(blind_is_not_looked),
		cmocka_unit_test(folding),
		cmocka_unit_test(bursts_fill_part_of_a_look),
		cmocka_unit_test(accounts_are_folded_too),
		cmocka_unit_test(kind_by_vote),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
