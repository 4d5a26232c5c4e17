#include "tests/census_world.h"

void night_begin(struct night *n, int squelch_ddb, int hours)
{
	struct run_row run = night_run(hours);

	n->tally = tally_create(world_band, WORLD_BANDS, squelch_ddb);
	assert_non_null(n->tally);
	assert_int_equal(tally_run(n->tally, &run), 0);
	for (int b = 0; b < WORLD_BANDS; b++)
		for (int h = 0; h < hours; h++) {
			struct coverage_row c = world_coverage(b, h);
			assert_int_equal(tally_coverage(n->tally, &c), 0);
		}
}

void night_add(struct night *n, struct world_over o)
{
	struct transmission_row t = world_transmission(&o);
	struct activity_row a = world_activity(&o);

	assert_int_equal(tally_transmission(n->tally, &t), 0);
	assert_int_equal(tally_activity(n->tally, &a), 0);
}

struct census *night_end(struct night *n)
{
	struct census *c = tally_finish(n->tally);

	tally_destroy(n->tally);
	assert_non_null(c);
	return c;
}

const struct channel *channel_at(const struct census *c, int32_t band, int32_t channel)
{
	for (int i = 0; i < c->channels; i++)
		if (c->channel[i].band == band && c->channel[i].channel == channel)
			return &c->channel[i];
	return NULL;
}
