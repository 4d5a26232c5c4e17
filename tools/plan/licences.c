#include "tools/plan/licences.h"

#include "tools/plan/list.h"
#include "tools/plan/plan.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* How much of text fits into room bytes without cutting a UTF-8 character. */
static size_t whole(const char *text, size_t room)
{
	size_t n = strlen(text);

	if (n <= room)
		return n;
	for (n = room; n > 0 && ((unsigned char)text[n] & 0xc0) == 0x80; n--)
		;
	return n;
}

int licences_add(struct licences *l, struct freq f, const char *label)
{
	if (list_room((void **)&l->at, l->n, sizeof *l->at) < 0)
		return -1;
	struct licence *to = &l->at[l->n];
	size_t n = whole(label, sizeof to->label - 1);

	*to = (struct licence){ .frequency = f, .order = l->n++ };
	memcpy(to->label, label, n);
	return 0;
}

static int ascending(const void *a, const void *b)
{
	const struct licence *x = a, *y = b;

	if (x->frequency.thirds != y->frequency.thirds)
		return x->frequency.thirds < y->frequency.thirds ? -1 : 1;
	return x->order - y->order;
}

void licences_sort(struct licences *l)
{
	if (l->n > 1)
		qsort(l->at, (size_t)l->n, sizeof *l->at, ascending);
}

void licences_free(struct licences *l)
{
	free(l->at);
	*l = (struct licences){ 0 };
}

/* The first at or above f. */
static int from(const struct licences *l, int64_t thirds)
{
	int low = 0, high = l->n;

	while (low < high) {
		int middle = low + (high - low) / 2;
		if (l->at[middle].frequency.thirds < thirds)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

int licences_of(const struct licences *l, struct freq centre, struct freq step, int *first)
{
	int64_t best = INT64_MAX;

	/* Exactly half a step below is the channel below's. */
	for (int i = from(l, centre.thirds - (step.thirds - 1) / 2); i < l->n; i++) {
		int64_t off = l->at[i].frequency.thirds - centre.thirds;
		if (2 * off > step.thirds)
			break;
		off = off < 0 ? -off : off;
		if (off < best) {
			best = off;
			*first = i;
		}
	}
	if (best == INT64_MAX)
		return 0;
	int64_t at = l->at[*first].frequency.thirds;
	return from(l, at + 1) - *first;
}

char *licences_words(const struct licences *l, struct freq centre, struct freq step,
		     char out[LISTED_TEXT])
{
	int first = 0, n = licences_of(l, centre, step, &first), told = 0;
	size_t at = 0, room = LISTED_TEXT - sizeof " and 200000 more";

	out[0] = '\0';
	for (; told < n; told++) {
		const char *label = l->at[first + told].label;
		size_t need = strlen(label) + (told ? 2 : 0);
		/* The first is told at any rate, cut where it must be. */
		if (told && at + need > room)
			break;
		size_t fits = whole(label, room - (told ? 2 : 0) - at);
		at += (size_t)sprintf(out + at, "%s%.*s", told ? "; " : "", (int)fits, label);
	}
	if (told < n)
		sprintf(out + at, " and %d more", n - told);
	return out;
}

/* A pinned memory that was not heard has no channel: what it is tuned to counts. */
void licences_mark(const struct licences *l, const struct census *c, struct plan *p)
{
	for (int i = 0; i < p->memories; i++) {
		struct memory *m = &p->memory[i];
		const struct raster *r = m->channel < 0 ? NULL :
			&c->band[c->channel[m->channel].band].raster;
		licences_words(l, m->frequency, r ? r->step : m->landing.step, m->listed);
	}
	for (int i = 0; i < p->lefts; i++) {
		const struct channel *ch = &c->channel[p->left[i].channel];
		licences_words(l, ch->centre, c->band[ch->band].raster.step, p->left[i].listed);
	}
}
