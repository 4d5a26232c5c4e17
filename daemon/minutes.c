#include "daemon/minutes.h"

#include <stdlib.h>
#include <string.h>

#include "store/picture.h"
#include "store/strip.h"

struct minute {
	int64_t  start_us;
	uint8_t *cells;         /* [channels] of all bands, one after the other */
	bool    *seen;          /* [n_bands] holds something of the band        */
};

struct minutes {
	const struct band *bands;
	int            n_bands;
	int           *base;            /* [n_bands] a band's first cell */
	int            channels;
	struct minute *minute;          /* two at a usual commit, more while the store is away */
	int            n, room;         /* of room the memory is kept    */
};

struct minutes *minutes_create(const struct band *bands, int n_bands)
{
	struct minutes *m = calloc(1, sizeof *m);

	if (!m)
		return NULL;
	*m = (struct minutes){ .bands = bands, .n_bands = n_bands };
	m->base = calloc((size_t)n_bands + 1, sizeof *m->base);
	if (!m->base) {
		minutes_destroy(m);
		return NULL;
	}
	for (int i = 0; i < n_bands; i++) {
		m->base[i] = m->channels;
		m->channels += bands[i].raster.count;
	}
	return m;
}

void minutes_destroy(struct minutes *m)
{
	if (!m)
		return;
	for (int i = 0; i < m->room; i++) {
		free(m->minute[i].cells);
		free(m->minute[i].seen);
	}
	free(m->minute);
	free(m->base);
	free(m);
}

/* What is held must not be lost, so without memory there is nothing sensible left to do. */
static void one_more(struct minutes *m)
{
	m->minute = reallocarray(m->minute, (size_t)m->room + 1, sizeof *m->minute);
	if (!m->minute)
		abort();
	struct minute *at = &m->minute[m->room++];
	at->cells = calloc((size_t)m->channels + 1, 1);
	at->seen = calloc((size_t)m->n_bands + 1, sizeof *at->seen);
	if (!at->cells || !at->seen)
		abort();
}

static struct minute *minute_at(struct minutes *m, int64_t start_us)
{
	for (int i = m->n - 1; i >= 0; i--)
		if (m->minute[i].start_us == start_us)
			return &m->minute[i];
	if (m->n == m->room)
		one_more(m);
	struct minute *at = &m->minute[m->n++];
	at->start_us = start_us;
	memset(at->cells, STRIP_NOT_LOOKED, (size_t)m->channels);
	memset(at->seen, 0, (size_t)m->n_bands * sizeof *at->seen);
	return at;
}

static void raise(uint8_t *cell, int to)
{
	if (*cell < to)
		*cell = (uint8_t)to;
}

void minutes_look(struct minutes *m, const struct hop *hop, int64_t start_us,
		  const struct judged *j)
{
	struct minute *at = minute_at(m, start_us - start_us % STRIP_MINUTE_US);
	const enum verdict *verdict = j->verdict;

	for (int i = 0; i < hop->n_spans; i++) {
		const struct span *s = &hop->spans[i];
		uint8_t *cells = at->cells + m->base[s->band] + s->first;
		at->seen[s->band] = true;
		for (int32_t c = 0; c < s->count; c++)
			if (*verdict++ == VERDICT_IDLE)
				raise(&cells[c], STRIP_QUIET);
	}
	for (int i = 0; i < j->findings; i++) {
		const struct finding *f = &j->finding[i];
		raise(&at->cells[m->base[f->band] + f->channel],
		      STRIP_HEARD + level_bin(f->power, f->floor));
	}
}

int minutes_write(const struct minutes *m, int64_t run, struct survey *s, struct fault *why)
{
	for (int i = 0; i < m->n; i++)
		for (int32_t b = 0; b < m->n_bands; b++) {
			const struct minute *at = &m->minute[i];
			if (at->seen[b] &&
			    picture_add(s, run, b, at->start_us, at->cells + m->base[b], why) < 0)
				return -1;
		}
	return 0;
}

void minutes_empty(struct minutes *m)
{
	m->n = 0;
}
