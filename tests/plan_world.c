#include "tests/test.h"

#include "tests/plan_world.h"
#include "tests/shelf_receiver.h"
#include "tools/plan/list.h"
#include "tools/plan/propose.h"

#include <stdio.h>
#include <stdlib.h>

/* Four hours of looks, so many days after the first. */
static void look(struct scene *s, int day)
{
	struct run_row run = night_run(4);

	run.start_us += day * 24 * HOUR_US;
	run.end_us += day * 24 * HOUR_US;
	run.id += day;
	assert_int_equal(tally_run(s->tally, &run), 0);
	for (int b = 0; b < s->bands; b++)
		for (int h = 0; h < 4; h++) {
			struct coverage_row c = world_coverage(0, day * 24 + h);
			c.band = b;
			c.run = run.id;
			c.count = s->channels[b];
			assert_int_equal(tally_coverage(s->tally, &c), 0);
		}
}

void scene_begin(struct scene *s, const struct band *bands, int n)
{
	scene_begin_at(s, bands, n, NULL, "UTC");
}

void scene_begin_at(struct scene *s, const struct band *bands, int n, int32_t (*ahead_s)(int64_t us),
		    const char *zone)
{
	*s = (struct scene){ .receiver = shelf_receiver(), .bands = n };
	assert_int_equal(interests_default(&s->interests), 0);
	s->tally = tally_create(bands, n, 60);
	assert_non_null(s->tally);
	tally_zone(s->tally, ahead_s, zone);
	assert_in_range(n, 1, SCENE_BANDS);
	for (int b = 0; b < n; b++)
		s->channels[b] = bands[b].raster.count;
	look(s, 0);
}

void scene_quiet_night(struct scene *s)
{
	look(s, 1);
}

void scene_whole_day(struct scene *s)
{
	for (int b = 0; b < s->bands; b++)
		for (int h = 4; h < 24; h++) {
			struct coverage_row c = world_coverage(0, h);
			c.band = b;
			c.count = s->channels[b];
			assert_int_equal(tally_coverage(s->tally, &c), 0);
		}
}

struct typed *scene_type(struct scene *s, int bank, int slot, struct freq f)
{
	assert_int_equal(list_room((void **)&s->typed.at, s->typed.n, sizeof *s->typed.at), 0);
	struct typed *t = &s->typed.at[s->typed.n++];
	*t = (struct typed){ .line = s->typed.n + 1, .bank = bank, .slot = slot, .frequency = f, .mode = MODE_NFM,
			     .delay_s = 2 };
	return t;
}

void scene_type_plan(struct scene *s, const struct plan *p)
{
	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		struct typed *t = scene_type(s, m->bank, m->slot, m->landing.landed);
		t->mode = m->mode;
		t->delay_s = 1e-6 * (double)m->delay_us;
		t->locked = m->locked;
		t->priority = m->priority;
		t->noted = m->noted;
		t->pinned = m->fixed;
		snprintf(t->name, sizeof t->name, "%s", m->name);
	}
}

void scene_add(struct scene *s, struct world_over o)
{
	struct transmission_row t = world_transmission(&o);
	struct activity_row a = world_activity(&o);

	assert_int_equal(tally_transmission(s->tally, &t), 0);
	assert_int_equal(tally_activity(s->tally, &a), 0);
}

void scene_talk(struct scene *s, int32_t band, int32_t channel, int exchanges, int32_t level_ddb,
		enum kind kind)
{
	for (int e = 0; e < exchanges; e++)
		for (int k = 0; k < 3; k++)
			scene_add(s, (struct world_over){ band, channel,
						    60 + e * 13000.0 / exchanges + 7 * k + band, 5,
						    level_ddb + 3 * (e % 3), 0, 9000, kind, 0 });
}

void scene_propose(struct scene *s)
{
	s->census = tally_finish(s->tally);
	assert_non_null(s->census);
	s->suspect = suspect_all(s->census);
	assert_non_null(s->suspect);
	struct fault why = { 0 };
	if (s->typed.n > 0 && former_create(&s->typed, "typed", s->census, &s->receiver, &s->former, &why) < 0)
		fail_msg("%s", why.text);
	s->plan = propose_again(s->census, s->suspect, &s->receiver, &s->interests,
				s->typed.n > 0 ? &s->former : NULL);
	assert_non_null(s->plan);
}

void scene_end(struct scene *s)
{
	plan_destroy(s->plan);
	former_free(&s->former);
	typed_free(&s->typed);
	free(s->suspect);
	census_destroy(s->census);
	tally_destroy(s->tally);
	interests_free(&s->interests);
}

const struct memory *scene_memory(const struct scene *s, int32_t band, int32_t channel)
{
	for (int i = 0; i < s->plan->memories; i++) {
		const struct memory *m = &s->plan->memory[i];
		if (m->channel >= 0 && !m->same_as.bank && s->census->channel[m->channel].band == band &&
		    s->census->channel[m->channel].channel == channel)
			return m;
	}
	return NULL;
}

const char *scene_left(const struct scene *s, int32_t band, int32_t channel)
{
	for (int i = 0; i < s->plan->lefts; i++) {
		const struct channel *ch = &s->census->channel[s->plan->left[i].channel];
		if (ch->band == band && ch->channel == channel)
			return s->plan->left[i].reason;
	}
	return NULL;
}
