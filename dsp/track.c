#include "dsp/track.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SURE_DB     6.0         /* below this one idle look may be a miss               */
#define NEVER       INT64_MIN

/* An over in the making. */
struct open {
	struct transmission t;
	int64_t      first_mono, last_mono;     /* of its busy stretch             */
	int64_t      next_mono;         /* when it was first seen off again, or NEVER */
	int          misses;            /* idle looks since it was last seen on    */
	uint16_t     level[LEVEL_BINS];
	double       weight, offset_sum, width_sum;
	double       peak, floor_sum;
	int32_t      next;              /* free list                               */
};

/* What is known of a channel between looks. */
struct seatbook {
	int64_t looked_mono;            /* end of the last look that could judge it */
	int32_t open;                   /* index of its over, or -1                 */
	bool    busy;                   /* at that look                             */
};

struct track {
	struct track_rules  rules;
	const struct band  *bands;
	int                 n_bands, n_channels;
	int                *base;       /* [n_bands] first channel's place in book */
	struct seatbook    *book;
	struct open        *open;       /* pool, one a channel at most             */
	int32_t             free;
	void (*ended)(void *, const struct transmission *);
	void (*touched)(void *, const struct touch *);
	void               *self;
};

int level_bin(double power, double floor)
{
	int db = (int)(10 * log10(power / fmax(floor, 1e-30)));
	return db < 0 ? 0 : db >= LEVEL_BINS ? LEVEL_BINS - 1 : db;
}

struct track *track_create(const struct track_rules *rules, const struct band *bands, int n_bands,
			   void (*ended)(void *self, const struct transmission *),
			   void (*touched)(void *self, const struct touch *), void *self)
{
	struct track *t = calloc(1, sizeof *t);
	if (!t)
		return NULL;
	*t = (struct track){ .rules = *rules, .bands = bands, .n_bands = n_bands,
			     .ended = ended, .touched = touched, .self = self };
	t->base = calloc((size_t)n_bands + 1, sizeof *t->base);
	if (!t->base)
		goto fail;
	for (int i = 0; i < n_bands; i++) {
		t->base[i] = t->n_channels;
		t->n_channels += bands[i].raster.count;
	}
	t->book = calloc((size_t)t->n_channels + 1, sizeof *t->book);
	t->open = calloc((size_t)t->n_channels + 1, sizeof *t->open);
	if (!t->book || !t->open)
		goto fail;
	for (int i = 0; i < t->n_channels; i++) {
		t->book[i] = (struct seatbook){ NEVER, -1, false };
		t->open[i].next = i + 1;
	}
	return t;
fail:
	track_destroy(t);
	return NULL;
}

void track_destroy(struct track *t)
{
	if (!t)
		return;
	free(t->base);
	free(t->book);
	free(t->open);
	free(t);
}

static bool soon(const struct track *t, const struct seatbook *s, int64_t mono_us)
{
	return s->looked_mono != NEVER &&
	       mono_us - s->looked_mono <= (int64_t)(TRACK_SOON * (double)t->rules.revisit_us);
}

static struct seatbook *book_of(const struct track *t, int32_t band, int32_t channel)
{
	return &t->book[t->base[band] + channel];
}

void track_open(const struct track *t, const struct hop *hop, int64_t mono_us, bool *open)
{
	for (int i = 0; i < hop->n_spans; i++) {
		const struct span *span = &hop->spans[i];
		for (int32_t c = span->first; c < span->first + span->count; c++) {
			const struct seatbook *s = book_of(t, span->band, c);
			*open++ = s->busy && soon(t, s, mono_us);
		}
	}
}

bool track_soon(const struct track *t, const struct hop *hop, int64_t mono_us)
{
	return soon(t, book_of(t, hop->spans[0].band, hop->spans[0].first), mono_us);
}

/* Level of the middle look. */
static double median_level(const struct open *o)
{
	int n = 0;
	for (int i = 0; i < LEVEL_BINS; i++) {
		n += o->level[i];
		if (2 * n >= o->t.looks)
			return i + 0.5;
	}
	return 0;
}

static void end(struct track *t, struct seatbook *s)
{
	struct open *o = &t->open[s->open];
	struct transmission *x = &o->t;

	x->last_us = x->first_us + (o->last_mono - o->first_mono);
	x->after_us = o->next_mono == NEVER ? -1 : o->next_mono - o->last_mono;
	x->peak_db = 10 * log10(o->peak);
	x->level_db = fmin(median_level(o), x->peak_db);
	x->floor_dbfs = 10 * log10(fmax(o->floor_sum / x->looks, 1e-30));
	x->offset_hz = o->offset_sum / o->weight;
	x->width_hz = o->width_sum / o->weight;
	t->ended(t->self, x);
	o->next = t->free;
	t->free = s->open;
	s->open = -1;
}

static struct open *begin(struct track *t, struct seatbook *s, const struct look *l,
			  const struct finding *f, int64_t on_mono)
{
	s->open = t->free;
	struct open *o = &t->open[s->open];
	t->free = o->next;
	memset(o, 0, sizeof *o);
	o->first_mono = o->last_mono = on_mono;
	o->t.band = f->band;
	o->t.channel = f->channel;
	o->t.first_us = l->start_us + (on_mono - l->mono_us);
	o->t.before_us = s->looked_mono == NEVER ? -1 : on_mono - s->looked_mono;
	return o;
}

/* Adds a look's finding to an over and returns how much busy time it brought. */
static int64_t extend(const struct track *t, struct open *o, const struct finding *f,
		      int64_t on, int64_t off)
{
	int64_t from = on - o->last_mono <= t->rules.fill_us ? o->last_mono : on;
	double ratio = f->power / fmax(f->floor, 1e-30);

	/* A stronger look tells more, but no look tells all. */
	double weight = fmin(ratio, 100);
	o->t.busy_us += off - from;
	o->t.looks++;
	o->last_mono = off;
	o->next_mono = NEVER;
	o->misses = 0;
	int bin = level_bin(f->power, f->floor);
	if (o->level[bin] < UINT16_MAX)
		o->level[bin]++;
	o->weight += weight;
	o->offset_sum += weight * f->offset_hz;
	o->width_sum += weight * f->width_hz;
	o->peak = fmax(o->peak, ratio);
	o->floor_sum += f->floor;
	return off - from;
}

/* One idle look ends a clear over; a weak one may merely have been missed. until:
 * the end of that look, for all of it was silent. */
static bool over_is_over(const struct track *t, const struct open *o, int64_t until)
{
	int needed = o->misses > 0 && 10 * log10(o->peak) >= SURE_DB ? 1 : 2;
	return o->misses >= needed && until - o->last_mono > t->rules.hang_us;
}

static void see_idle(struct track *t, struct seatbook *s, const struct look *l)
{
	struct open *o = s->open >= 0 ? &t->open[s->open] : NULL;

	if (o) {
		if (o->misses++ == 0)
			o->next_mono = l->mono_us;
		if (over_is_over(t, o, l->mono_us + l->length_us))
			end(t, s);
	}
	s->busy = false;
	s->looked_mono = l->mono_us + l->length_us;
}

/* On again after it was not looked at: the same over if it had gone on for longer
 * than that before, else it may well be another. */
static bool lost_sight(const struct track *t, const struct open *o, int64_t on)
{
	int64_t hole = on - o->last_mono;

	return hole > t->rules.hang_us && hole > o->last_mono - o->first_mono;
}

static void see_busy(struct track *t, struct seatbook *s, const struct look *l,
		     const struct finding *f)
{
	int64_t on = l->mono_us + look_slice_us(l, f->first_slice);
	int64_t off = l->mono_us + look_slice_us(l, f->last_slice + 1);
	bool again = soon(t, s, l->mono_us);
	struct touch touch = {
		.band = f->band, .channel = f->channel, .busy = true,
		.opened = !(again && s->busy), .held = again && s->busy,
		.level = level_bin(f->power, f->floor),
	};

	if (s->open >= 0 && !again && lost_sight(t, &t->open[s->open], on))
		end(t, s);
	struct open *o = s->open >= 0 ? &t->open[s->open] : begin(t, s, l, f, on);
	touch.busy_us = extend(t, o, f, on, off);
	t->touched(t->self, &touch);
	if (o->last_mono - o->first_mono >= TRACK_LONGEST_US)
		end(t, s);
	s->busy = true;
	s->looked_mono = l->mono_us + l->length_us;
}

/* Not judged: an over goes on unseen, but not for ever. */
static void see_blind(struct track *t, struct seatbook *s, const struct look *l,
		      int32_t band, int32_t channel)
{
	t->touched(t->self, &(struct touch){ .band = band, .channel = channel, .blind = true,
					     .blind_us = l->span_us });
	if (s->open >= 0 && l->mono_us - t->open[s->open].last_mono >
	    t->rules.hang_us + (int64_t)(TRACK_SOON * (double)t->rules.revisit_us))
		end(t, s);
}

void track_look(struct track *t, const struct hop *hop, const struct look *l,
		const struct judged *j)
{
	int seat = 0;

	for (int i = 0; i < hop->n_spans; i++) {
		const struct span *span = &hop->spans[i];
		for (int32_t c = span->first; c < span->first + span->count; c++, seat++) {
			struct seatbook *s = book_of(t, span->band, c);
			if (j->verdict[seat] == VERDICT_IDLE)
				see_idle(t, s, l);
			else if (j->verdict[seat] != VERDICT_BUSY)
				see_blind(t, s, l, span->band, c);
		}
	}
	for (int i = 0; i < j->findings; i++) {
		const struct finding *f = &j->finding[i];
		see_busy(t, book_of(t, f->band, f->channel), l, f);
	}
}

void track_revisit(struct track *t, int64_t revisit_us)
{
	t->rules.revisit_us = revisit_us;
}

void track_end(struct track *t)
{
	for (int i = 0; i < t->n_channels; i++)
		if (t->book[i].open >= 0)
			end(t, &t->book[i]);
}
