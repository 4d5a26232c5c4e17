#include "tests/test.h"

#include "tests/compare_world.h"

#include <math.h>

struct survey_of compare_begin(int from, int to, double every_s)
{
	struct survey_of s = { tally_create(world_band, WORLD_BANDS, 60), every_s };
	struct run_row run = night_run(to);

	assert_non_null(s.tally);
	tally_hourly(s.tally);
	run.start_us = NIGHT_US + from * HOUR_US;
	assert_int_equal(tally_run(s.tally, &run), 0);
	for (int h = from; h < to; h++) {
		struct coverage_row c = world_coverage(WORLD_FIRE, h);
		c.looks = (int64_t)(3600 / every_s);
		c.pairs = c.looks - 1;
		c.looked_us = c.looks * 20000;
		c.count = 200;          /* the rest of the band is not looked at */
		assert_int_equal(tally_coverage(s.tally, &c), 0);
	}
	return s;
}

void compare_talk(struct survey_of *s, int channel, int n, double from_h, double to_h, enum kind kind,
		 int32_t tone_ddhz)
{
	for (int i = 0; i < n; i++) {
		struct world_over o = { WORLD_FIRE, channel, 3600 * (from_h + (to_h - from_h) * (i + 0.5) / n), 5,
					250, 0, 9000, kind, tone_ddhz };
		struct transmission_row t = world_transmission(&o);
		struct activity_row a = world_activity(&o);
		int64_t looks = (int64_t)ceil(5 / s->every_s);
		t.before_us = t.after_us = (int64_t)(s->every_s * 0.5e6);
		a.busy_looks = a.level_looks[25] = looks;
		a.held = looks - 1;
		t.last_us = t.first_us + (int64_t)((double)(looks - 1) * s->every_s * 1e6) + 20000;
		/* Heard long enough to agree on its tone. */
		t.heard_ms = 4000;
		t.below = tone_ddhz ? BELOW_TONE : BELOW_NOTHING;
		assert_int_equal(tally_transmission(s->tally, &t), 0);
		assert_int_equal(tally_activity(s->tally, &a), 0);
	}
}

struct census *compare_end(struct survey_of *s)
{
	struct census *c = tally_finish(s->tally);

	assert_non_null(c);
	tally_destroy(s->tally);
	return c;
}

int compare_said(const struct comparison *c, int channel, enum change is)
{
	int n = 0;

	for (int i = 0; i < c->n; i++)
		n += c->of[i].is == is &&
		     c->of[i].centre.thirds == raster_centre(&world_band[WORLD_FIRE].raster, channel).thirds;
	return n;
}

int compare_all_said(const struct comparison *c, int channel)
{
	int n = 0;

	for (enum change is = CHANGE_NEW; is < CHANGE_COUNT; is++)
		n += compare_said(c, channel, is);
	return n;
}

void compare_stay(struct survey_of *s, int channel, int n, double share)
{
	for (int i = 0; i < n && share > 0; i++) {
		struct world_over o = { WORLD_FIRE, channel, 14400.0 * i / n, 14400 * share / n, 250, 0, 9000, KIND_NFM, 0 };
		struct transmission_row t = world_transmission(&o);
		struct activity_row a = world_activity(&o);
		assert_int_equal(tally_transmission(s->tally, &t), 0);
		assert_int_equal(tally_activity(s->tally, &a), 0);
	}
}
