#include "tests/test.h"

#include "tests/night_world.h"
#include "tools/suspect.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the census ---- */

struct night {
	struct tally *tally;
};

static void begin(struct night *n, int squelch_ddb, int hours)
{
	struct run_row run = world_run(hours);

	n->tally = tally_create(world_band, WORLD_BANDS, squelch_ddb);
	assert_non_null(n->tally);
	assert_int_equal(tally_run(n->tally, &run), 0);
	for (int b = 0; b < WORLD_BANDS; b++)
		for (int h = 0; h < hours; h++) {
			struct coverage_row c = world_coverage(b, h);
			assert_int_equal(tally_coverage(n->tally, &c), 0);
		}
}

static void add(struct night *n, struct world_over o)
{
	struct transmission_row t = world_transmission(&o);
	struct activity_row a = world_activity(&o);

	assert_int_equal(tally_transmission(n->tally, &t), 0);
	assert_int_equal(tally_activity(n->tally, &a), 0);
}

static struct census *end(struct night *n)
{
	struct census *c = tally_finish(n->tally);

	tally_destroy(n->tally);
	assert_non_null(c);
	return c;
}

static const struct channel *at(const struct census *c, int32_t band, int32_t channel)
{
	for (int i = 0; i < c->channels; i++)
		if (c->channel[i].band == band && c->channel[i].channel == channel)
			return &c->channel[i];
	return NULL;
}

static void counts(void **state)
{
	struct night n;

	(void)state;
	begin(&n, 60, 2);
	for (int i = 0; i < 6; i++)     /* two exchanges of three, 5 s each, 2 s apart */
		add(&n, (struct world_over){ WORLD_FIRE, 186, 100 + i / 3 * 600 + i % 3 * 7, 5,
					     200 + i * 10, 400, 11000, KIND_NFM, 1000 });
	add(&n, (struct world_over){ WORLD_FIRE, 50, 30, 5, 30, 0, 11000, KIND_NFM, 0 });
	struct census *c = end(&n);
	const struct channel *ch = at(c, WORLD_FIRE, 186);

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
		begin(&n, squelch, 1);
		for (int i = 0; i < 30; i++)
			add(&n, (struct world_over){ WORLD_BUSINESS, 40, 60 + i * 40, 5, i * 10, 0,
						     11000, KIND_NFM, 0 });
		struct census *c = end(&n);
		const struct channel *ch = at(c, WORLD_BUSINESS, 40);
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
	begin(&n, 60, 1);
	add(&n, (struct world_over){ WORLD_FIRE, 186, 100, 18, 200, 0, 11000, KIND_NFM, 0 });
	assert_int_equal(tally_activity(n.tally, &blind), 0);
	struct census *c = end(&n);
	assert_int_equal(at(c, WORLD_FIRE, 186)->looks.looks, 1800);
	assert_true(fabs(at(c, WORLD_FIRE, 186)->occupancy - 0.01) < 1e-9);
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
		begin(&n, 60, 1);
		for (int k = 0; k < 20; k++)
			add(&n, (struct world_over){ WORLD_FIRE, 100, 60 + k * 60, 5, 250, 500,
						     11000, KIND_NFM, 0 });
		for (int k = 0; k < folds[i].lesser; k++)
			add(&n,
			    (struct world_over){ WORLD_FIRE, 100 + folds[i].apart,
						 60 + k * 60 + folds[i].shift_s, folds[i].length_s,
						 240, folds[i].offset_hz, 11000, KIND_NFM, 0 });
		struct census *c = end(&n);
		int want = folds[i].folded ? 20 + folds[i].lesser : 20;
		if (at(c, WORLD_FIRE, 100)->overs != want ||
		    c->channels != (folds[i].folded ? 1 : 2))
			fail_msg("%s: %d overs on %d channels", folds[i].why,
				 at(c, WORLD_FIRE, 100)->overs, c->channels);
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
		begin(&n, 60, 1);
		for (int k = 0; k < KIND_COUNT; k++)
			for (int v = 0; v < of[k]; v++)
				add(&n, (struct world_over){ WORLD_BUSINESS, 9, at_s += 60,
					votes[i].looks, 250, 0, 11000, (enum kind)k, 0 });
		struct census *c = end(&n);
		const struct channel *ch = at(c, WORLD_BUSINESS, 9);
		if (ch->kind != votes[i].want || (ch->kind == KIND_UNKNOWN) != (ch->agreed == 0))
			fail_msg("%s: got %s, %.2f agree", votes[i].why, kind_name(ch->kind),
				 ch->agreed);
		census_destroy(c);
	}
}

/* ---- suspects ---- */

static enum suspicion suspicion_at(const struct census *c, int32_t band, int32_t channel)
{
	struct suspect *s = suspect_all(c);
	const struct channel *ch = at(c, band, channel);

	assert_non_null(s);
	assert_non_null(ch);
	enum suspicion is = s[ch - c->channel].is;
	if (is != SUSPECT_NONE)
		assert_true(s[ch - c->channel].why[0] != '\0');
	free(s);
	return is;
}

/* Parents A 152.500 and B 152.650 (paging), child 2A - B = 152.350: the table moves
 * the child in time, level and frequency. */
static const struct {
	const char    *why;
	int32_t        channel;         /* of the child, paging raster              */
	double         shift_s;         /* after the parents came on                */
	int32_t        level_ddb;
	int            overs;
	enum suspicion want;
} ghosts[] = {
	{ "there only with both parents", 140, 0, 200, 20, SUSPECT_GHOST },
	{ "on by itself too", 140, 30, 200, 20, SUSPECT_NONE },
	{ "no product falls here", 100, 0, 200, 20, SUSPECT_NONE },
	{ "as strong as its parents", 140, 0, 500, 20, SUSPECT_NONE },
	{ "once is chance", 140, 0, 200, 1, SUSPECT_NONE },
};

static void ghost_needs_parents(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof ghosts / sizeof ghosts[0]; i++) {
		struct night n;
		begin(&n, 60, 2);
		for (int k = 0; k < 20; k++) {
			double t = 60 + k * 300;
			add(&n, (struct world_over){ WORLD_PAGING, 200, t, 5, 550, 0, 14000,
						     KIND_DATA, 0 });
			add(&n, (struct world_over){ WORLD_PAGING, 260, t, 5, 560, 0, 14000,
				KIND_DATA, 0 });
			if (k < ghosts[i].overs)
				add(&n, (struct world_over){ WORLD_PAGING, ghosts[i].channel,
							     t + ghosts[i].shift_s, 4,
							     ghosts[i].level_ddb, 0, 14000,
							     KIND_NFM, 0 });
		}
		struct census *c = end(&n);
		enum suspicion got = suspicion_at(c, WORLD_PAGING, ghosts[i].channel);
		if (got != ghosts[i].want)
			fail_msg("%s: got %s", ghosts[i].why, got ? suspicion_name(got) : "none");
		census_destroy(c);
	}
}

/* 16 x 28.8 MHz is 460.8 MHz: channel 8 of a band of its own. */
static void birdie_needs_all(void **state)
{
	static const struct {
		const char *why;
		enum kind kind;
		double on_s;
		int32_t width, channel;
		double ppm;
		enum suspicion want;
	} rows[] = {
		{ "a carrier on all the time", KIND_CARRIER, 3600, 300, 8, 0, SUSPECT_BIRDIE },
		{ "narrow, kind unknown", KIND_UNKNOWN, 3600, 300, 8, 0, SUSPECT_BIRDIE },
		{ "on half the time", KIND_CARRIER, 1800, 300, 8, 0, SUSPECT_NONE },
		{ "speaks", KIND_NFM, 3600, 9000, 8, 0, SUSPECT_CONTINUOUS },
		{ "25 kHz beside", KIND_CARRIER, 3600, 300, 10, 0, SUSPECT_CONTINUOUS },
		{ "there because 54 ppm were taken out", KIND_CARRIER, 3600, 300, 10, 54,
		  SUSPECT_BIRDIE },
	};
	struct band own = { .id = "own",
			    .name = "Own",
			    .service = "business",
			    .mode = MODE_NFM,
			    .width_hz = 11000,
			    .raster = { { INT64_C(3) * 460700000 }, { 37500 }, 20 } };

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct world_over o = {
			0, rows[i].channel, 0, rows[i].on_s, 250, 0, rows[i].width, rows[i].kind, 0
		};
		struct transmission_row t = world_transmission(&o);
		struct activity_row a = world_activity(&o);
		struct coverage_row cover = world_coverage(WORLD_FIRE, 0);
		struct run_row run = world_run(1);
		struct tally *tally = tally_create(&own, 1, 60);
		cover.count = 20;
		run.ppm = rows[i].ppm;
		tally_run(tally, &run);
		tally_coverage(tally, &cover);
		tally_activity(tally, &a);
		tally_transmission(tally, &t);
		struct census *c = tally_finish(tally);
		tally_destroy(tally);
		enum suspicion got = suspicion_at(c, 0, rows[i].channel);
		if (got != rows[i].want)
			fail_msg("%s: got %s", rows[i].why, got ? suspicion_name(got) : "none");
		census_destroy(c);
	}
}

static const struct {
	const char    *why;
	int32_t        apart;           /* steps of 12.5 kHz        */
	double         shift_s;
	int32_t        level_ddb;
	enum suspicion want;
} splatters[] = {
	{ "25 kHz away, 45 dB weaker, never alone", 2, 0, 150, SUSPECT_SPLATTER },
	{ "100 kHz away", 8, 0, 150, SUSPECT_NONE },
	{ "30 dB weaker", 2, 0, 300, SUSPECT_NONE },
	{ "heard alone", 2, 40, 150, SUSPECT_NONE },
};

static void splatter_needs_neighbour(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof splatters / sizeof splatters[0]; i++) {
		struct night n;
		begin(&n, 60, 1);
		for (int k = 0; k < 20; k++) {
			double t = 30 + k * 120;
			add(&n, (struct world_over){ WORLD_BUSINESS, 100, t, 5, 600, 0, 11000,
						     KIND_NFM, 0 });
			add(&n,
			    (struct world_over){ WORLD_BUSINESS, 100 + splatters[i].apart,
						 t + splatters[i].shift_s, 4,
						 splatters[i].level_ddb, 0, 9000, KIND_NFM, 0 });
		}
		struct census *c = end(&n);
		enum suspicion got = suspicion_at(c, WORLD_BUSINESS, 100 + splatters[i].apart);
		if (got != splatters[i].want)
			fail_msg("%s: got %s", splatters[i].why,
				 got ? suspicion_name(got) : "none");
		census_destroy(c);
	}
}

/* Twelve channels of 2.5 kHz, one after another, always as strong. */
static const struct {
	const char    *why;
	int            channels;
	int32_t        apart, rise_ddb;
	double         length_s;
	enum suspicion want;
} trails[] = {
	{ "one steady line over twelve channels", 12, 1, 0, 60, SUSPECT_WANDERER },
	{ "three channels may be three users", 3, 1, 0, 60, SUSPECT_NONE },
	{ "15 kHz apart they are users", 12, 6, 0, 60, SUSPECT_NONE },
	{ "each of its own strength", 12, 1, 30, 60, SUSPECT_NONE },
	{ "seldom on", 12, 1, 0, 5, SUSPECT_NONE },
};

static void wanderer_leaves_a_trail(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof trails / sizeof trails[0]; i++) {
		struct night n;
		begin(&n, 60, 1);
		for (int k = 0; k < 48; k++) {
			int which = k % trails[i].channels;
			add(&n, (struct world_over){ WORLD_FIRE, 50 + which * trails[i].apart,
						     10 + k * 70, trails[i].length_s,
						     140 + which * trails[i].rise_ddb, 0, 1000,
						     KIND_NFM, 0 });
		}
		struct census *c = end(&n);
		enum suspicion got = suspicion_at(c, WORLD_FIRE, 50 + trails[i].apart);
		if (got != trails[i].want)
			fail_msg("%s: got %s", trails[i].why, got ? suspicion_name(got) : "none");
		census_destroy(c);
	}
}

static void survey_artefacts_count(void **state)
{
	struct night n;
	struct artefact_row r = { .run = 1, .at_us = NIGHT_US, .band = WORLD_AIR, .channel = 7,
				  .cause = "image", .text = "mirrors 118.2 MHz" };

	(void)state;
	begin(&n, 60, 1);
	add(&n, (struct world_over){ WORLD_AIR, 7, 60, 5, 250, 0, 6000, KIND_AM, 0 });
	assert_int_equal(tally_artefact(n.tally, &r), 0);
	struct census *c = end(&n);
	assert_int_equal(suspicion_at(c, WORLD_AIR, 7), SUSPECT_ARTEFACT);
	census_destroy(c);
}

static void stuck_over(void **state)
{
	struct night n;

	(void)state;
	begin(&n, 60, 2);
	for (int k = 0; k < 20; k++)
		add(&n, (struct world_over){ WORLD_BUSINESS, 100, 30 + k * 100, 5, 300, 0, 11000,
					     KIND_NFM, 0 });
	add(&n, (struct world_over){ WORLD_BUSINESS, 100, 3600, 1140, 300, 0, 11000, KIND_NFM, 0 });
	struct census *c = end(&n);
	assert_int_equal(suspicion_at(c, WORLD_BUSINESS, 100), SUSPECT_STUCK);
	census_destroy(c);
}

static void nothing_heard(void **state)
{
	struct night n;

	(void)state;
	begin(&n, 60, 1);
	struct census *c = end(&n);
	struct suspect *s = suspect_all(c);
	assert_int_equal(c->channels, 0);
	assert_non_null(s);
	free(s);
	census_destroy(c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(counts),
		cmocka_unit_test(squelch_takes_away),
		cmocka_unit_test(blind_is_not_looked),
		cmocka_unit_test(folding),
		cmocka_unit_test(kind_by_vote),
		cmocka_unit_test(ghost_needs_parents),
		cmocka_unit_test(birdie_needs_all),
		cmocka_unit_test(splatter_needs_neighbour),
		cmocka_unit_test(wanderer_leaves_a_trail),
		cmocka_unit_test(survey_artefacts_count),
		cmocka_unit_test(stuck_over),
		cmocka_unit_test(nothing_heard),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
