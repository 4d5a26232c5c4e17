#include "tools/plan/tally.h"

#include "tools/plan/list.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Asking the zone takes longer than all else about an over; it changes on the hour at most. */
int64_t tally_local_us(struct tally *t, int64_t us)
{
	int64_t hour = us / HOUR_US;
	int at = (int)(hour & (ZONE_HOURS - 1));

	if (!t->ahead_s)
		return us;
	if (t->known[at].hour != hour) {
		t->known[at].hour = hour;
		t->known[at].ahead_s = t->ahead_s(hour * HOUR_US);
	}
	return us + t->known[at].ahead_s * INT64_C(1000000);
}

/* An hour of UTC lies in two local ones where the zone is off by half an hour: the first. */
static struct week_cell *week_cell(struct tally *t, int32_t band, int64_t us)
{
	return &t->of[band].week.cell[week_hour(tally_local_us(t, us))];
}

void tally_zone(struct tally *t, int32_t (*ahead_s)(int64_t us), const char *zone)
{
	t->ahead_s = ahead_s;
	snprintf(t->zone, sizeof t->zone, "%s", zone);
}

void tally_hourly(struct tally *t)
{
	t->hourly = true;
}

struct tally *tally_create(const struct band *bands, int n_bands, int squelch_ddb)
{
	struct tally *t = calloc(1, sizeof *t);
	if (!t)
		return NULL;
	t->squelch_ddb = squelch_ddb;
	strcpy(t->zone, "UTC");
	t->band = calloc((size_t)n_bands + 1, sizeof *t->band);
	t->of = calloc((size_t)n_bands + 1, sizeof *t->of);
	if (!t->band || !t->of)
		goto fail;
	t->bands = n_bands;
	for (int b = 0; b < n_bands; b++) {
		t->band[b] = bands[b];
		size_t n = (size_t)bands[b].raster.count;
		t->of[b].step = calloc(n + 1, sizeof *t->of[b].step);
		t->of[b].cell = malloc(n * sizeof *t->of[b].cell);
		if (!t->of[b].step || !t->of[b].cell)
			goto fail;
		memset(t->of[b].cell, 0xff, n * sizeof *t->of[b].cell);
	}
	return t;
fail:
	tally_destroy(t);
	return NULL;
}

void tally_destroy(struct tally *t)
{
	if (!t)
		return;
	for (int b = 0; b < t->bands; b++) {
		free(t->of[b].step);
		free(t->of[b].cell);
		free(t->of[b].hour);
		rise_free(&t->of[b].rise);
	}
	stints_free(&t->stints);
	free(t->of);
	free(t->band);
	free(t->cell);
	free(t->over);
	free(t->account);
	free(t->exposure);
	free(t);
}

static bool known(const struct tally *t, int32_t band, int32_t channel)
{
	return band >= 0 && band < t->bands && channel >= 0 && channel < t->band[band].raster.count;
}

static struct cell *cell_of(struct tally *t, int32_t band, int32_t channel)
{
	int32_t *at = &t->of[band].cell[channel];
	if (*at < 0) {
		if (list_room((void **)&t->cell, t->cells, sizeof *t->cell) < 0)
			return NULL;
		t->cell[t->cells] = (struct cell){ .band = band, .channel = channel };
		*at = t->cells++;
	}
	return &t->cell[*at];
}

int tally_run(struct tally *t, const struct run_row *row)
{
	t->ppm = row->ppm;
	return stints_run(&t->stints, row->id, row->start_us, row->end_us);
}

static int note_hour(struct field_of *f, int64_t hour)
{
	for (int i = f->hours; i-- > 0; )       /* mostly one of the last */
		if (f->hour[i] == hour)
			return 0;
	if (list_room((void **)&f->hour, f->hours, sizeof *f->hour) < 0)
		return -1;
	f->hour[f->hours++] = hour;
	return 0;
}

static int expose(struct tally *t, const struct coverage_row *row)
{
	if (!t->hourly)
		return 0;
	if (list_room((void **)&t->exposure, t->exposures, sizeof *t->exposure) < 0)
		return -1;
	t->exposure[t->exposures++] = (struct exposure){
		.band = row->band,
		.first = row->first,
		.count = row->count,
		.hour = week_hour(tally_local_us(t, row->hour)),
		.looks = (double)row->looks,
		.pairs = (double)row->pairs,
		.looked_s = 1e-6 * (double)row->looked_us,
		.wall_s = 1e-6 * (double)stints_within(&t->stints, row->run, row->hour,
						       row->hour + HOUR_US),
	};
	return 0;
}

int tally_coverage(struct tally *t, const struct coverage_row *row)
{
	if (!known(t, row->band, row->first) || row->count < 1 ||
	    !known(t, row->band, row->first + row->count - 1))
		return 0;
	struct field_of *f = &t->of[row->band];
	struct cover *low = &f->step[row->first], *high = &f->step[row->first + row->count];

	low->looks += row->looks, high->looks -= row->looks;
	low->pairs += row->pairs, high->pairs -= row->pairs;
	low->looked_us += row->looked_us, high->looked_us -= row->looked_us;
	f->clipped += row->clipped;
	f->floor_ddb += row->floor_ddb_sum;
	f->floor_looks += row->looks;
	if (note_hour(f, row->hour) < 0 || rise_note(&f->rise, row) < 0)
		return -1;
	/* In which hours of an old day it was, is no longer known. */
	if (row->more_hours == 0) {
		f->of_day |= UINT32_C(1) << (row->hour / HOUR_US % 24);
		week_cell(t, row->band, row->hour)->looked_us +=
			(double)row->looked_us * row->count;
		if (expose(t, row) < 0)
			return -1;
	}
	return stints_looked(&t->stints, row->run, row->hour,
			     row->hour + (1 + row->more_hours) * HOUR_US);
}

static int enter(struct tally *t, const struct activity_row *row, int64_t busy_looks)
{
	if (!t->hourly)
		return 0;
	if (list_room((void **)&t->account, t->accounts, sizeof *t->account) < 0)
		return -1;
	t->account[t->accounts++] = (struct account){
		row->band,
		row->channel,
		week_hour(tally_local_us(t, row->hour)),
		(int32_t)busy_looks,
		(int32_t)row->busy_looks,
		(int32_t)row->openings,
		(int32_t)row->blind_looks,
	};
	return 0;
}

int tally_activity(struct tally *t, const struct activity_row *row)
{
	if (!known(t, row->band, row->channel))
		return 0;
	struct cell *c = cell_of(t, row->band, row->channel);
	if (!c)
		return -1;
	c->evidence += row->busy_looks;
	c->openings += row->openings;
	c->held += row->held;
	c->blind_looks += row->blind_looks;
	c->blind_us += row->blind_us;
	/* Bin i holds i .. i+1 dB: a squelch of whole decibels is exact, another
	 * counts from the next whole one on. */
	int64_t busy_us = 0, busy_looks = 0;
	for (int i = 0; i < LEVEL_BINS; i++)
		if (i * 10 >= t->squelch_ddb) {
			busy_us += row->level[i];
			busy_looks += row->level_looks[i];
		}
	c->busy_us += busy_us;
	c->busy_looks += busy_looks;
	if (row->more_hours == 0) {
		struct week_cell *w = week_cell(t, row->band, row->hour);
		w->busy_us += (double)busy_us;
		w->looked_us -= (double)row->blind_us;
		return enter(t, row, busy_looks);
	}
	return 0;
}

int tally_transmission(struct tally *t, const struct transmission_row *row)
{
	if (!known(t, row->band, row->channel) || row->peak_ddb < t->squelch_ddb)
		return 0;
	struct cell *c = cell_of(t, row->band, row->channel);
	if (!c || list_room((void **)&t->over, t->overs, sizeof *t->over) < 0)
		return -1;
	c->overs++;
	t->over[t->overs++] = (struct over){
		.band = row->band, .channel = row->channel, .run = row->run,
		.first_us = row->first_us, .last_us = row->last_us,
		.before_us = row->before_us, .after_us = row->after_us,
		.busy_us = row->busy_us, .looks = row->looks,
		.level_ddb = row->level_ddb, .peak_ddb = row->peak_ddb,
		.offset_hz = row->offset_hz, .width_hz = row->width_hz,
		.kind = row->kind, .confidence = row->confidence, .heard_ms = row->heard_ms,
		.occupied_hz = row->occupied_hz, .down26_hz = row->down26_hz,
		.deviation_hz = row->deviation_hz, .depth_pm = row->depth_pm,
		/* A survey of version 1 kept the tone alone. */
		.below = row->tone_ddhz ? BELOW_TONE : row->below,
		.tone_ddhz = row->tone_ddhz, .code = row->code,
	};
	return 0;
}

int tally_artefact(struct tally *t, const struct artefact_row *row)
{
	if (!known(t, row->band, row->channel))
		return 0;
	if (strcmp(row->cause, CAUSE_FLOOR_OFF) == 0) {
		baseline_floor_read(row->text, &t->of[row->band].off);
		return 0;
	}
	struct cell *c = cell_of(t, row->band, row->channel);
	if (!c)
		return -1;
	if (strcmp(row->cause, CAUSE_REAL) == 0) {
		c->cleared++;
		return 0;
	}
	if (strcmp(row->cause, CAUSE_ANTENNA_OFF) == 0) {
		baseline_read(row->text, &c->off);
		return 0;
	}
	c->artefacts++;
	snprintf(c->cause, sizeof c->cause, "%s", row->cause);
	snprintf(c->account, sizeof c->account, "%.*s", (int)sizeof c->account - 1, row->text);
	return 0;
}
