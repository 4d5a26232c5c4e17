#include "tools/plan/census.h"

#include "tools/plan/list.h"
#include "tools/plan/tally.h"

#include <stdlib.h>
#include <string.h>

static int look_back(const struct tally *t, int b, int64_t wall_us, struct looked *out)
{
	const struct field_of *f = &t->of[b];
	struct cover sum = { 0 }, all = { 0 };
	int32_t n = t->band[b].raster.count, seen = 0;
	int64_t *of_channel = calloc((size_t)n, sizeof *of_channel);

	if (!of_channel)
		return -1;
	for (int32_t i = 0; i < n; i++) {
		of_channel[i] = sum.looks += f->step[i].looks;
		sum.looked_us += f->step[i].looked_us;
		all.looks += sum.looks;
		all.looked_us += sum.looked_us;
		seen += sum.looks > 0;
	}
	*out = (struct looked){
		.looks = all.looks / n,
		.looked_us = all.looked_us / n,
		.of_channel = of_channel,
		.clipped = f->clipped,
		.of_day = f->of_day,
		.hours = f->hours,
		.rise_db = rise_most(&f->rise),
		.off_dbfs = f->off.dbfs, .off_looks = f->off.looks,
		.share = (double)seen / n,
		.floor_dbfs =
			f->floor_looks ? 0.1 * (double)f->floor_ddb / (double)f->floor_looks : 0,
	};
	if (all.looks > seen && seen > 0)
		out->revisit_s = 1e-6 * (double)wall_us * seen / (double)all.looks;
	return 0;
}

/* One channel's row, its looked time from the band's running sum. */
static struct channel row_of(const struct tally *t, const struct cell *c, const struct cover *sum)
{
	struct channel ch = {
		.band = c->band, .channel = c->channel,
		.centre = raster_centre(&t->band[c->band].raster, c->channel),
		.looks = { .looks = sum->looks - c->blind_looks, .busy = c->busy_looks,
			   .evidence = c->evidence, .openings = c->openings,
			   .held = c->held, .pairs = sum->pairs },
		.looked_us = sum->looked_us - c->blind_us, .busy_us = c->busy_us,
		.off_dbfs = c->off.dbfs, .off_share = c->off.share,
		.overs = c->overs, .artefacts = c->artefacts, .cleared = c->cleared,
	};
	memcpy(ch.cause, c->cause, sizeof ch.cause);
	memcpy(ch.account, c->account, sizeof ch.account);
	return ch;
}

static int list_channels(const struct tally *t, int b, struct census *c)
{
	struct cover sum = { 0 };

	for (int32_t i = 0; i < t->band[b].raster.count; i++) {
		sum.looks += t->of[b].step[i].looks;
		sum.pairs += t->of[b].step[i].pairs;
		sum.looked_us += t->of[b].step[i].looked_us;
		int32_t at = t->of[b].cell[i];
		if (at < 0)
			continue;
		const struct channel ch = row_of(t, &t->cell[at], &sum);
		if (ch.overs == 0 && 2 * ch.busy_us <= ch.looked_us)
			continue;
		if (list_room((void **)&c->channel, c->channels, sizeof *c->channel) < 0)
			return -1;
		c->channel[c->channels++] = ch;
	}
	return 0;
}

/* Overs by the hour they began in; in the week those of what goes off, for what is always on
 * would make each hour one in which something was heard. */
static void fill_weeks(struct tally *t, struct census *c)
{
	for (int i = 0; i < c->channels; i++) {
		struct channel *ch = &c->channel[i];
		for (int k = 0; k < ch->overs; k++) {
			int hour = week_hour(tally_local_us(t, c->over[ch->over + k].first_us));
			ch->hours |= UINT32_C(1) << hour % DAY_HOURS;
			t->of[ch->band].week.cell[hour].overs += ch->occupancy <= 0.5;
		}
	}
	for (int b = 0; b < t->bands; b++)
		c->week[b] = t->of[b].week;
}

struct census *tally_finish(struct tally *t)
{
	struct census *c = calloc(1, sizeof *c);
	if (!c)
		return NULL;
	c->squelch_ddb = t->squelch_ddb;
	c->stints = t->stints;
	t->stints = (struct stints){ 0 };
	c->wall_us = stints_wall(&c->stints, &c->start_us, &c->end_us);
	c->ppm = t->ppm;
	memcpy(c->zone, t->zone, sizeof c->zone);
	c->ahead_s = t->ahead_s;
	c->bands = t->bands;
	c->band = calloc((size_t)t->bands + 1, sizeof *c->band);
	c->looked = calloc((size_t)t->bands + 1, sizeof *c->looked);
	c->week = calloc((size_t)t->bands + 1, sizeof *c->week);
	if (!c->band || !c->looked || !c->week)
		goto fail;
	memcpy(c->band, t->band, (size_t)t->bands * sizeof *c->band);
	c->over = t->over;              /* there may be many: moved, not copied */
	c->overs = t->overs;
	t->over = NULL;
	t->overs = 0;
	c->account = t->account;
	c->accounts = t->accounts;
	t->account = NULL;
	c->exposure = t->exposure;
	c->exposures = t->exposures;
	t->exposure = NULL;
	for (int b = 0; b < t->bands; b++) {
		if (look_back(t, b, c->wall_us, &c->looked[b]) < 0 || list_channels(t, b, c) < 0)
			goto fail;
	}
	if (census_settle(c) < 0)
		goto fail;
	fill_weeks(t, c);
	return c;
fail:
	census_destroy(c);
	return NULL;
}

void census_destroy(struct census *c)
{
	if (!c)
		return;
	for (int b = 0; c->looked && b < c->bands; b++)
		free(c->looked[b].of_channel);
	stints_free(&c->stints);
	free(c->band);
	free(c->looked);
	free(c->week);
	free(c->channel);
	free(c->over);
	free(c->account);
	free(c->exposure);
	free(c);
}

int64_t census_local_us(const struct census *c, int64_t us)
{
	return us + (c->ahead_s ? c->ahead_s(us) : 0) * INT64_C(1000000);
}

double channel_hz(const struct channel *ch)
{
	return freq_to_hz(ch->centre) + ch->offset_hz;
}
