#include "tests/test.h"

#include "tests/census_world.h"
#include "tools/plan/suspect.h"

#include <stdlib.h>
#include <string.h>

static enum suspicion suspicion_at(const struct census *c, int32_t band, int32_t channel)
{
	struct suspect *s = suspect_all(c);
	const struct channel *ch = channel_at(c, band, channel);

	assert_non_null(s);
	assert_non_null(ch);
	enum suspicion is = s[ch - c->channel].is;
	if (is != SUSPECT_NONE)
		assert_true(s[ch - c->channel].why[0] != '\0');
	free(s);
	return is;
}

/* Ends the night, too. */
static void expect(struct night *n, const char *why, int32_t band, int32_t channel, enum suspicion want)
{
	struct census *c = night_end(n);
	enum suspicion got = suspicion_at(c, band, channel);

	if (got != want)
		fail_msg("%s: got %s", why, got ? suspicion_name(got) : "none");
	census_destroy(c);
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
		night_begin(&n, 60, 2);
		for (int k = 0; k < 20; k++) {
			double t = 60 + k * 300;
			night_add(&n, (struct world_over){ WORLD_PAGING, 200, t, 5, 550, 0, 14000,
						     KIND_DATA, 0 });
			night_add(&n, (struct world_over){ WORLD_PAGING, 260, t, 5, 560, 0, 14000,
				KIND_DATA, 0 });
			if (k < ghosts[i].overs)
				night_add(&n, (struct world_over){ WORLD_PAGING, ghosts[i].channel,
							     t + ghosts[i].shift_s, 4,
							     ghosts[i].level_ddb, 0, 14000,
							     KIND_NFM, 0 });
		}
		expect(&n, ghosts[i].why, WORLD_PAGING, ghosts[i].channel, ghosts[i].want);
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
		struct run_row run = night_run(1);
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
		night_begin(&n, 60, 1);
		for (int k = 0; k < 20; k++) {
			double t = 30 + k * 120;
			night_add(&n, (struct world_over){ WORLD_BUSINESS, 100, t, 5, 600, 0, 11000,
						     KIND_NFM, 0 });
			night_add(&n,
			    (struct world_over){ WORLD_BUSINESS, 100 + splatters[i].apart,
						 t + splatters[i].shift_s, 4,
						 splatters[i].level_ddb, 0, 9000, KIND_NFM, 0 });
		}
		expect(&n, splatters[i].why, WORLD_BUSINESS, 100 + splatters[i].apart, splatters[i].want);
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
		night_begin(&n, 60, 1);
		for (int k = 0; k < 48; k++) {
			int which = k % trails[i].channels;
			night_add(&n, (struct world_over){ WORLD_FIRE, 50 + which * trails[i].apart,
						     10 + k * 70, trails[i].length_s,
						     140 + which * trails[i].rise_ddb, 0, 1000,
						     KIND_NFM, 0 });
		}
		expect(&n, trails[i].why, WORLD_FIRE, 50 + trails[i].apart, trails[i].want);
	}
}

static void survey_artefacts_count(void **state)
{
	struct night n;
	struct artefact_row r = { .run = 1, .at_us = NIGHT_US, .band = WORLD_AIR, .channel = 7,
				  .cause = "image", .text = "mirrors 118.2 MHz" };

	(void)state;
	night_begin(&n, 60, 1);
	night_add(&n, (struct world_over){ WORLD_AIR, 7, 60, 5, 250, 0, 6000, KIND_AM, 0 });
	assert_int_equal(tally_artefact(n.tally, &r), 0);
	struct census *c = night_end(&n);
	assert_int_equal(suspicion_at(c, WORLD_AIR, 7), SUSPECT_ARTEFACT);
	census_destroy(c);
}

/* Put to the proof and found real: no rule may say that the receiver makes it. */
static void cleared_by_the_survey(void **state)
{
	struct artefact_row r = { .run = 1, .at_us = NIGHT_US, .band = WORLD_PAGING, .channel = 140,
				  .cause = "product", .text = "fell 18 dB for 6 dB less gain" };

	(void)state;
	for (int cleared = 0; cleared < 2; cleared++) {
		struct night n;
		night_begin(&n, 60, 2);
		for (int k = 0; k < 20; k++) {
			double t = 60 + k * 300;
			night_add(&n, (struct world_over){ WORLD_PAGING, 200, t, 5, 550, 0, 14000,
						     KIND_DATA, 0 });
			night_add(&n, (struct world_over){ WORLD_PAGING, 260, t, 5, 550, 0, 14000,
						     KIND_DATA, 0 });
			night_add(&n, (struct world_over){ WORLD_PAGING, 140, t, 5, 200, 0, 14000,
						     KIND_DATA, 0 });
		}
		strcpy(r.cause, "product");
		assert_int_equal(tally_artefact(n.tally, &r), 0);
		strcpy(r.cause, CAUSE_REAL);
		if (cleared)
			assert_int_equal(tally_artefact(n.tally, &r), 0);
		struct census *c = night_end(&n);
		assert_int_equal(suspicion_at(c, WORLD_PAGING, 140),
				 cleared ? SUSPECT_NONE : SUSPECT_ARTEFACT);
		census_destroy(c);
	}
}

static const struct {
	const char    *why;
	int32_t        channel;         /* 2.5 kHz apart; the ghost is on 140, 16 kHz wide */
	int            overs;           /* it has 20                                       */
	bool           cleared;
	enum suspicion want;
} besides[] = {
	{ "5 kHz beside, now and then", 142, 3, false, SUSPECT_GHOST },
	{ "but cleared", 142, 3, true, SUSPECT_NONE },
	{ "busier than the ghost", 142, 21, false, SUSPECT_NONE },
	{ "as busy as it", 142, 20, false, SUSPECT_GHOST },
	{ "farther than it is wide", 148, 3, false, SUSPECT_NONE },
};

static void beside_a_ghost(void **state)
{
	struct artefact_row ghost = { .run = 1, .at_us = NIGHT_US, .band = WORLD_PAGING, .channel = 140,
				      .cause = "product", .text = "fell 18 dB for 6 dB less gain" };

	(void)state;
	for (size_t i = 0; i < sizeof besides / sizeof besides[0]; i++) {
		struct artefact_row real = { .run = 1, .at_us = NIGHT_US, .band = WORLD_PAGING,
					     .channel = besides[i].channel, .cause = CAUSE_REAL };
		struct night n;
		night_begin(&n, 60, 2);
		for (int k = 0; k < 20; k++)
			night_add(&n, (struct world_over){ WORLD_PAGING, 140, 60 + k * 300, 5, 200, 0,
						     16000, KIND_DATA, 0 });
		for (int k = 0; k < besides[i].overs; k++)
			night_add(&n, (struct world_over){ WORLD_PAGING, besides[i].channel,
						     160 + k * 200, 5, 190, 0, 16000, KIND_DATA, 0 });
		assert_int_equal(tally_artefact(n.tally, &ghost), 0);
		if (besides[i].cleared)
			assert_int_equal(tally_artefact(n.tally, &real), 0);
		expect(&n, besides[i].why, WORLD_PAGING, besides[i].channel, besides[i].want);
	}
}

/* Over 200 s, and five times the mean. */
static void stuck_over(void **state)
{
	static const struct {
		const char    *why;
		int            usual;
		double         usual_s, long_s;
		enum suspicion want;
	} by[] = {
		{ "nineteen minutes", 20, 5, 1140, SUSPECT_STUCK },
		{ "three minutes", 20, 5, 190, SUSPECT_NONE },
		{ "four minutes among long talks", 20, 60, 250, SUSPECT_NONE },
		{ "among short ones", 20, 30, 250, SUSPECT_STUCK },
		{ "of two overs nothing is usual", 1, 5, 1140, SUSPECT_NONE },
	};

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++) {
		struct night n;
		night_begin(&n, 60, 2);
		for (int k = 0; k < by[i].usual; k++)
			night_add(&n, (struct world_over){ WORLD_BUSINESS, 100, 30 + k * 100, by[i].usual_s, 300, 0,
						     11000, KIND_NFM, 0 });
		night_add(&n, (struct world_over){ WORLD_BUSINESS, 100, 3600, by[i].long_s, 300, 0, 11000,
					     KIND_NFM, 0 });
		expect(&n, by[i].why, WORLD_BUSINESS, 100, by[i].want);
	}
}

static void nothing_heard(void **state)
{
	struct night n;

	(void)state;
	night_begin(&n, 60, 1);
	struct census *c = night_end(&n);
	struct suspect *s = suspect_all(c);
	assert_int_equal(c->channels, 0);
	assert_non_null(s);
	free(s);
	census_destroy(c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(ghost_needs_parents),
		cmocka_unit_test(birdie_needs_all),
		cmocka_unit_test(splatter_needs_neighbour),
		cmocka_unit_test(wanderer_leaves_a_trail),
		cmocka_unit_test(survey_artefacts_count),
		cmocka_unit_test(cleared_by_the_survey),
		cmocka_unit_test(beside_a_ghost),
		cmocka_unit_test(stuck_over),
		cmocka_unit_test(nothing_heard),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
