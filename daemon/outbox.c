#include "daemon/outbox.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/minutes.h"

#define ROOM_FIRST 256          /* overs or incidents held; doubled when a store is away */

struct outbox {
	int64_t             run;
	const struct band  *bands;
	const struct hop_plan *hops;
	int                *base;       /* [n_bands] first channel's place in slot     */
	int32_t            *slot;       /* by channel: index into account, or -1       */
	int                 channels;
	struct activity_row *account;   /* of channels touched since the last commit   */
	int                 accounts, account_room;
	struct coverage_row *cover;     /* one a span of the hop plan, of this hour    */
	struct coverage_row *past;      /* of hours before that could not be committed */
	int                 pasts, past_room;
	struct parked_row  *park;       /* both likewise                               */
	struct parked_row  *past_park;
	int                 past_parks, past_park_room;
	struct minutes     *minutes;
	struct transmission_row *over;
	int                 overs, over_room;
	struct incident_row *incident;
	int                 incidents, incident_room;
	struct artefact_row *artefact;
	int                 artefacts, artefact_room;
	int64_t             hour;
	bool                parked;     /* the look in hand is a park's                */
	bool                covered;    /* cover or park holds something               */
	struct outbox_sum   sum;
};

struct outbox *outbox_create(int64_t run, const struct band *bands, int n_bands,
			     const struct hop_plan *hops)
{
	struct outbox *o = calloc(1, sizeof *o);
	if (!o)
		return NULL;
	*o = (struct outbox){ .run = run, .bands = bands, .hops = hops };
	o->base = calloc((size_t)n_bands + 1, sizeof *o->base);
	if (!o->base)
		goto fail;
	for (int i = 0; i < n_bands; i++) {
		o->base[i] = o->channels;
		o->channels += bands[i].raster.count;
	}
	o->slot = malloc(((size_t)o->channels + 1) * sizeof *o->slot);
	o->cover = calloc((size_t)hops->n_spans + 1, sizeof *o->cover);
	o->park = calloc((size_t)hops->n_spans + 1, sizeof *o->park);
	o->minutes = minutes_create(bands, n_bands);
	if (!o->slot || !o->cover || !o->park || !o->minutes)
		goto fail;
	memset(o->slot, 0xff, ((size_t)o->channels + 1) * sizeof *o->slot);
	return o;
fail:
	outbox_destroy(o);
	return NULL;
}

void outbox_destroy(struct outbox *o)
{
	if (!o)
		return;
	free(o->base);
	free(o->slot);
	free(o->account);
	free(o->cover);
	free(o->past);
	free(o->park);
	free(o->past_park);
	minutes_destroy(o->minutes);
	free(o->over);
	free(o->incident);
	free(o->artefact);
	free(o);
}

/* Room for one more; what is held while the store is away must not be lost, so
 * without memory there is nothing sensible left to do. */
static void *one_more(void *array, int n, int *room, size_t size)
{
	if (n < *room)
		return array;
	*room = *room ? 2 * *room : ROOM_FIRST;
	array = realloc(array, (size_t)*room * size);
	if (!array)
		abort();
	return array;
}

static int32_t tenths(double db)
{
	return (int32_t)lround(10 * db);
}

void outbox_ended(void *self, const struct transmission *t)
{
	struct outbox *o = self;

	o->over = one_more(o->over, o->overs, &o->over_room, sizeof *o->over);
	o->over[o->overs++] = (struct transmission_row){
		.run = o->run, .band = t->band, .channel = t->channel,
		.first_us = t->first_us, .last_us = t->last_us,
		.before_us = t->before_us, .after_us = t->after_us,
		.busy_us = t->busy_us, .looks = t->looks,
		.level_ddb = tenths(t->level_db), .peak_ddb = tenths(t->peak_db),
		.floor_ddb = tenths(t->floor_dbfs), .offset_hz = (int32_t)lround(t->offset_hz),
		.width_hz = (int32_t)lround(t->width_hz), .kind = t->kind,
		.confidence = (int32_t)lround(1000 * t->confidence),
		.heard_ms = (int32_t)lround(1000 * t->heard_s),
		.occupied_hz = (int32_t)lround(t->occupied_hz),
		.down26_hz = (int32_t)lround(t->down26_hz),
		.deviation_hz = (int32_t)lround(t->deviation_hz),
		.depth_pm = (int32_t)lround(1000 * t->am_depth),
		.below = t->below.below, .tone_ddhz = t->below.tone_ddhz, .code = t->below.code,
	};
	o->sum.transmissions++;
}

static struct activity_row *account_of(struct outbox *o, int32_t band, int32_t channel)
{
	int32_t *slot = &o->slot[o->base[band] + channel];

	if (*slot < 0) {
		o->account =
			one_more(o->account, o->accounts, &o->account_room, sizeof *o->account);
		*slot = o->accounts;
		o->account[o->accounts++] = (struct activity_row){
			.run = o->run, .hour = o->hour, .band = band, .channel = channel };
	}
	return &o->account[*slot];
}

void outbox_touched(void *self, const struct touch *t)
{
	struct outbox *o = self;

	if (o->parked)
		return;
	struct activity_row *a = account_of(o, t->band, t->channel);
	if (t->blind) {
		a->blind_looks++;
		a->blind_us += t->blind_us;
	}
	if (!t->busy)
		return;
	a->busy_looks++;
	a->busy_us += t->busy_us;
	a->openings += t->opened;
	a->held += t->held;
	a->level[t->level] += t->busy_us;
	a->level_looks[t->level]++;
}

bool outbox_hour_turns(const struct outbox *o, int64_t start_us)
{
	return o->hour != start_us / HOUR_US * HOUR_US &&
	       (o->accounts > 0 || o->overs > 0 || o->sum.looks > 0 || o->sum.parked > 0);
}

static void forget_hour(struct outbox *o)
{
	memset(o->cover, 0, (size_t)o->hops->n_spans * sizeof *o->cover);
	memset(o->park, 0, (size_t)o->hops->n_spans * sizeof *o->park);
	o->covered = false;
}

/* The store is away and another hour begins: what is held stays of its own hour. */
static void turn_hour(struct outbox *o, int64_t hour)
{
	if (o->hour == hour)
		return;
	for (int i = 0; i < o->hops->n_spans; i++) {
		if (o->cover[i].looks) {
			o->past = one_more(o->past, o->pasts, &o->past_room, sizeof *o->past);
			o->past[o->pasts++] = o->cover[i];
		}
		if (o->park[i].parked_us) {
			o->past_park = one_more(o->past_park, o->past_parks, &o->past_park_room,
						sizeof *o->past_park);
			o->past_park[o->past_parks++] = o->park[i];
		}
	}
	forget_hour(o);
	memset(o->slot, 0xff, ((size_t)o->channels + 1) * sizeof *o->slot);
	o->hour = hour;
}

/* The look in hand: its hour, and its minute's strip. */
static void take_up(struct outbox *o, const struct outbox_look *l, bool parked)
{
	turn_hour(o, l->look->start_us / HOUR_US * HOUR_US);
	o->parked = parked;
	o->covered = true;
	minutes_look(o->minutes, &o->hops->hops[l->hop], l->look->start_us, l->judged);
}

void outbox_parked(struct outbox *o, const struct outbox_look *l, bool begins)
{
	const struct hop *h = &o->hops->hops[l->hop];

	take_up(o, l, true);
	for (int i = 0; i < h->n_spans; i++) {
		const struct span *s = &h->spans[i];
		struct parked_row *p = &o->park[s - o->hops->spans];
		p->run = o->run;
		p->hour = o->hour;
		p->band = s->band;
		p->first = s->first;
		p->count = s->count;
		p->parks += begins;
		p->parked_us += l->look->span_us;
	}
	o->sum.parked++;
}

bool outbox_holds(const struct outbox *o)
{
	return o->covered || o->pasts > 0 || o->past_parks > 0 || o->accounts > 0 ||
	       o->overs > 0 || o->incidents > 0 || o->artefacts > 0;
}

/* One more look's floor, as whole tenths of a dB. */
static void add_floor(struct coverage_row *c, int32_t ddb)
{
	c->floor_low_ddb = c->looks == 0 || ddb < c->floor_low_ddb ? ddb : c->floor_low_ddb;
	c->floor_high_ddb = c->looks == 0 || ddb > c->floor_high_ddb ? ddb : c->floor_high_ddb;
	c->floor_ddb_sum += ddb;
}

void outbox_looked(struct outbox *o, const struct outbox_look *l)
{
	const struct hop *h = &o->hops->hops[l->hop];

	take_up(o, l, false);
	for (int i = 0; i < h->n_spans; i++) {
		const struct span *s = &h->spans[i];
		struct coverage_row *c = &o->cover[s - o->hops->spans];
		add_floor(c, tenths(l->floor_dbfs[i]));
		c->run = o->run;
		c->hour = o->hour;
		c->band = s->band;
		c->first = s->first;
		c->count = s->count;
		c->looks++;
		c->pairs += l->soon;
		c->looked_us += l->look->span_us;
		c->clipped += l->judged->overload;
	}
	o->sum.looks++;
}

void outbox_incident(struct outbox *o, const char *what, int64_t at_us, int64_t until_us,
		     const char *text)
{
	o->incident = one_more(o->incident, o->incidents, &o->incident_room, sizeof *o->incident);
	struct incident_row *row = &o->incident[o->incidents++];
	*row = (struct incident_row){ .run = o->run, .at_us = at_us, .until_us = until_us };
	snprintf(row->what, sizeof row->what, "%s", what);
	snprintf(row->text, sizeof row->text, "%s", text);
}

void outbox_artefact(struct outbox *o, const struct artefact_row *row)
{
	o->artefact = one_more(o->artefact, o->artefacts, &o->artefact_room, sizeof *o->artefact);
	o->artefact[o->artefacts] = *row;
	o->artefact[o->artefacts++].run = o->run;
}

static int put_times(const struct outbox *o, struct survey *s, struct fault *why)
{
	for (int i = 0; i < o->pasts; i++)
		if (survey_add_coverage(s, &o->past[i], why) < 0)
			return -1;
	for (int i = 0; i < o->past_parks; i++)
		if (survey_add_parked(s, &o->past_park[i], why) < 0)
			return -1;
	for (int i = 0; i < o->hops->n_spans; i++)
		if ((o->cover[i].looks && survey_add_coverage(s, &o->cover[i], why) < 0) ||
		    (o->park[i].parked_us && survey_add_parked(s, &o->park[i], why) < 0))
			return -1;
	return 0;
}

static int put_all(const struct outbox *o, struct survey *s, struct fault *why)
{
	if (put_times(o, s, why) < 0 || minutes_write(o->minutes, o->run, s, why) < 0)
		return -1;
	for (int i = 0; i < o->accounts; i++)
		if (survey_add_activity(s, &o->account[i], why) < 0)
			return -1;
	for (int i = 0; i < o->overs; i++)
		if (survey_add_transmission(s, &o->over[i], why) < 0)
			return -1;
	for (int i = 0; i < o->incidents; i++)
		if (survey_add_incident(s, &o->incident[i], why) < 0)
			return -1;
	for (int i = 0; i < o->artefacts; i++)
		if (survey_add_artefact(s, &o->artefact[i], why) < 0)
			return -1;
	return 0;
}

static void empty(struct outbox *o)
{
	o->sum.busy_channels = 0;
	for (int i = 0; i < o->accounts; i++) {
		o->slot[o->base[o->account[i].band] + o->account[i].channel] = -1;
		o->sum.busy_channels += o->account[i].busy_looks > 0;
	}
	forget_hour(o);
	minutes_empty(o->minutes);
	o->pasts = o->past_parks = o->accounts = o->overs = o->incidents = o->artefacts = 0;
}

int outbox_commit(struct outbox *o, struct survey *s, bool strips, struct fault *why)
{
	if (!strips)
		minutes_empty(o->minutes);
	if (survey_begin(s, why) < 0)
		return -1;
	if (put_all(o, s, why) < 0 || survey_commit(s, why) < 0)
		goto undo;
	empty(o);
	return 0;
undo:
	survey_rollback(s);
	return -1;
}

struct outbox_sum outbox_sum(struct outbox *o)
{
	struct outbox_sum sum = o->sum;
	o->sum.looks = o->sum.parked = o->sum.transmissions = 0;
	return sum;
}
