#include "tests/census_world.h"

#include <math.h>
#include <stdlib.h>

#include "store/baseline.h"
#include "tools/plan/suspect.h"

#define FLOOR_DBFS -70.0        /* of the invented night */

/* A channel on which a line stood with the antenna off. */
static const struct {
	const char    *why;
	double         off_db;          /* its level then, over the survey's floor */
	double         share;
	int            overs;           /* of 50 s, one a minute for an hour        */
	int32_t        level_ddb;       /* of them now, over the floor              */
	enum suspicion want;
} lines[] = {
	{ "as strong and as steady as then", 20, 1, 60, 200, SUSPECT_ARTEFACT },
	{ "a little stronger", 20, 1, 60, 240, SUSPECT_ARTEFACT },
	{ "somebody far stronger sits on it", 20, 1, 60, 350, SUSPECT_NONE },
	{ "far weaker: it is another, or another gain", 35, 1, 60, 200, SUSPECT_NONE },
	{ "comes and goes, which it did not then", 20, 1, 6, 200, SUSPECT_NONE },
	{ "a line that is seen now and then", 20, 0.25, 12, 200, SUSPECT_ARTEFACT },
	{ "nothing there with the antenna off", 20, 0, 60, 200, SUSPECT_NONE },
};

static enum suspicion judged(size_t k, int32_t channel)
{
	struct night n;
	struct artefact_row r = { .run = 1, .at_us = NIGHT_US, .band = WORLD_BUSINESS, .channel = 40,
				  .cause = CAUSE_ANTENNA_OFF };
	enum suspicion got = SUSPECT_COUNT;

	night_begin(&n, 60, 1);
	for (int i = 0; i < lines[k].overs; i++)
		night_add(&n, (struct world_over){ WORLD_BUSINESS, channel, i * 60, 50, lines[k].level_ddb,
						   0, 9000, KIND_NFM, 0 });
	struct baseline_line l = { FLOOR_DBFS + lines[k].off_db, lines[k].share, 29.7, 460.8 };
	baseline_tell(&l, r.text, sizeof r.text);
	if (lines[k].share > 0)
		assert_int_equal(tally_artefact(n.tally, &r), 0);
	struct census *c = night_end(&n);
	struct suspect *all = suspect_all(c);
	assert_non_null(all);
	for (int i = 0; i < c->channels; i++)
		if (c->channel[i].band == WORLD_BUSINESS && c->channel[i].channel == channel)
			got = all[i].is;
	free(all);
	census_destroy(c);
	return got;
}

static void only_the_same_line_is_condemned(void **state)
{
	(void)state;
	for (size_t k = 0; k < sizeof lines / sizeof lines[0]; k++) {
		enum suspicion got = judged(k, 40);
		if (got != lines[k].want)
			fail_msg("%s: got %d, want %d", lines[k].why, got, lines[k].want);
		if (judged(k, 44) != SUSPECT_NONE)
			fail_msg("%s: four channels beside it are condemned as well", lines[k].why);
	}
}

/* The noise with the antenna off is told of its band, and condemns nobody on the channel it is kept with. */
static void noise_with_the_antenna_off(void **state)
{
	const struct baseline_floor f = { FLOOR_DBFS - 8.25, 120, 29.7 };
	struct artefact_row r = { .run = 1, .at_us = NIGHT_US, .band = WORLD_BUSINESS, .channel = 40,
				  .cause = CAUSE_FLOOR_OFF };
	struct night n;

	(void)state;
	night_begin(&n, 60, 1);
	night_add(&n, (struct world_over){ WORLD_BUSINESS, 40, 60, 50, 200, 0, 9000, KIND_NFM, 0 });
	baseline_floor_tell(&f, r.text, sizeof r.text);
	assert_int_equal(tally_artefact(n.tally, &r), 0);
	struct census *c = night_end(&n);
	for (int b = 0; b < c->bands; b++) {
		assert_int_equal(c->looked[b].off_looks, b == WORLD_BUSINESS ? 120 : 0);
		assert_true(fabs(c->looked[b].off_dbfs - (b == WORLD_BUSINESS ? FLOOR_DBFS - 8.25 : 0)) < 1e-9);
	}
	assert_int_equal(channel_at(c, WORLD_BUSINESS, 40)->artefacts, 0);
	census_destroy(c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(only_the_same_line_is_condemned),
		cmocka_unit_test(noise_with_the_antenna_off),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
