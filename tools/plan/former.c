#include "tools/plan/former.h"

#include <stdio.h>
#include <stdlib.h>

#define ALL_HOURS UINT32_C(0xffffff)

static void gather_words(struct former *f)
{
	for (int i = 0; i < f->set->memories; i++) {
		const struct memory *m = &f->set->memory[i];
		struct former_word *w = m->channel >= 0 ? &f->word[m->channel] : NULL;
		if (!w)
			continue;
		w->held = true;
		if (m->fixed && !w->fixed)
			w->fixed = m;
		if (m->noted > w->noted)
			w->noted = m->noted;
	}
}

/* One tick a channel, whatever is noted most strongly of its slots. */
static int learn(struct former *f)
{
	struct tick *t = calloc((size_t)f->census->channels + 1, sizeof *t);
	int n = 0;

	if (!t)
		return -1;
	gather_words(f);
	for (int i = 0; i < f->census->channels; i++) {
		const struct channel *ch = &f->census->channel[i];
		enum noted noted = former_of(f, i).noted;
		if (ch->overs > 0 && (noted == NOTED_YES || noted == NOTED_NOISE))
			t[n++] = (struct tick){ ch->level_db, noted == NOTED_YES };
	}
	ticks_margin(t, n, &f->margin);
	free(t);
	return 0;
}

int former_create(const struct typed_list *typed, const char *path, const struct census *c,
		  const struct receiver *r, struct former *out, struct fault *why)
{
	*out = (struct former){ .typed = typed, .census = c, .receiver = r };
	out->set = typed_plan(typed, path, c, r, why);
	out->word = calloc((size_t)c->channels + 1, sizeof *out->word);
	if (!out->set)
		return -1;
	return !out->word || learn(out) < 0 ? fault_set(why, FAULT_FATAL, "%s: no memory", path) :
					      0;
}

void former_free(struct former *f)
{
	plan_destroy(f->set);
	free(f->word);
	*f = (struct former){ 0 };
}

struct former_word former_of(const struct former *f, int channel)
{
	return f && channel >= 0 ? f->word[channel] : (struct former_word){ 0 };
}

bool former_same(const struct memory *was, const struct memory *m)
{
	return was->channel == m->channel &&
	       (m->channel >= 0 || was->landing.landed.thirds == m->landing.landed.thirds);
}

const struct memory *former_at(const struct former *f, int bank, int slot)
{
	for (int i = 0; i < f->set->memories; i++)
		if (f->set->memory[i].bank == bank && f->set->memory[i].slot == slot)
			return &f->set->memory[i];
	return NULL;
}

const struct typed *former_typed(const struct former *f, const struct memory *m)
{
	for (int i = 0; i < f->typed->n; i++)
		if (f->typed->at[i].line == m->line)
			return &f->typed->at[i];
	return NULL;
}

enum former_looked former_looked(const struct former *f, const struct memory *m)
{
	const struct census *c = f->census;

	if (typed_looks(m, c, f->receiver) == 0)
		return FORMER_UNLOOKED;
	for (int b = 0; b < c->bands; b++)
		if (raster_nearest(&c->band[b].raster, m->landing.landed) >= 0 &&
		    (c->looked[b].of_day & ALL_HOURS) == ALL_HOURS &&
		    week_work_hours(&c->week[b]) > 0)
			return FORMER_LOOKED;
	return FORMER_PARTLY;
}

void former_hold(const struct memory *was, const struct receiver *r, const struct census *c,
		 struct memory *out)
{
	out->bank = was->bank;
	out->slot = was->slot;
	out->frequency = was->frequency;
	out->landing = was->landing;
	out->mode = was->mode;
	out->delay_us = was->delay_us;
	out->locked = was->locked;
	out->priority = was->priority;
	out->line = was->line;
	out->noted = was->noted;
	out->fixed = was->fixed;
	if (was->name[0])
		snprintf(out->name, sizeof out->name, "%s", was->name);
	hazard_at(r, c, was->landing.landed, was->mode, out->hazard);
}
