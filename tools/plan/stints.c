#include "tools/plan/stints.h"

#include "tools/plan/list.h"

#include <stdlib.h>

static struct stint *stint_of(struct stints *s, int64_t run)
{
	for (int i = s->n; i-- > 0; )           /* mostly one of the last */
		if (s->at[i].run == run)
			return &s->at[i];
	if (list_room((void **)&s->at, s->n, sizeof *s->at) < 0)
		return NULL;
	s->at[s->n] = (struct stint){ .run = run, .from_us = INT64_MAX };
	return &s->at[s->n++];
}

int stints_run(struct stints *s, int64_t run, int64_t from_us, int64_t to_us)
{
	struct stint *of = to_us > from_us ? stint_of(s, run) : NULL;

	if (to_us <= from_us)
		return 0;
	if (!of)
		return -1;
	*of = (struct stint){ run, from_us, to_us, true };
	return 0;
}

int stints_looked(struct stints *s, int64_t run, int64_t from_us, int64_t to_us)
{
	struct stint *of = stint_of(s, run);

	if (!of)
		return -1;
	if (of->ended)
		return 0;
	of->from_us = from_us < of->from_us ? from_us : of->from_us;
	of->to_us = to_us > of->to_us ? to_us : of->to_us;
	return 0;
}

int64_t stints_within(const struct stints *s, int64_t run, int64_t from_us, int64_t to_us)
{
	for (int i = s->n; i-- > 0; ) {         /* mostly one of the last */
		const struct stint *of = &s->at[i];
		if (of->run != run || !of->ended)
			continue;
		from_us = of->from_us > from_us ? of->from_us : from_us;
		to_us = of->to_us < to_us ? of->to_us : to_us;
	}
	return to_us > from_us ? to_us - from_us : 0;
}

static int by_beginning(const void *a, const void *b)
{
	const struct stint *x = a, *y = b;
	return (x->from_us > y->from_us) - (x->from_us < y->from_us);
}

int64_t stints_wall(struct stints *s, int64_t *from_us, int64_t *to_us)
{
	int64_t wall = 0;

	*from_us = *to_us = 0;
	if (s->n == 0)
		return 0;
	qsort(s->at, (size_t)s->n, sizeof *s->at, by_beginning);
	*from_us = *to_us = s->at[0].from_us;
	for (int i = 0; i < s->n; i++) {
		int64_t from = s->at[i].from_us > *to_us ? s->at[i].from_us : *to_us;
		if (s->at[i].to_us > from) {
			wall += s->at[i].to_us - from;
			*to_us = s->at[i].to_us;
		}
	}
	return wall;
}

int stints_spells(const struct stints *s, int64_t most_us, int k, int64_t *from_us, int64_t *to_us)
{
	int n = 0;

	for (int i = 0; i < s->n; ) {
		int64_t from = s->at[i].from_us, to = s->at[i].to_us;
		for (i++; i < s->n && s->at[i].from_us - to <= SPELL_BREAK_US; i++)
			to = s->at[i].to_us > to ? s->at[i].to_us : to;
		int pieces = (int)((to - from + most_us - 1) / most_us);
		if (k >= n && k < n + pieces) {
			*from_us = from + (k - n) * most_us;
			*to_us = *from_us + most_us < to ? *from_us + most_us : to;
		}
		n += pieces;
	}
	return n;
}

void stints_free(struct stints *s)
{
	free(s->at);
	*s = (struct stints){ 0 };
}
