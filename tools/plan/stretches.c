#include "tools/plan/stretches.h"

#include <stdlib.h>

/* Where a stretch may begin, for the place that is to be its end: of all beginnings that are
 * neither too near nor too far the best stands in front, behind it those that will be best
 * once it is too far. */
struct window {
	int32_t *begin;
	int64_t *value;         /* best before it, less the worth of all places before it */
	int32_t  front, back;   /* begin[front .. back)                                   */
	int32_t  next;          /* the first that is still too near                       */
};

struct search {
	const struct place *p;
	int32_t             n;
	int64_t            *sum;        /* worth of the places before i, i = 0 .. n           */
	int64_t            *best;       /* [k][i]: of at most k stretches before place i      */
	int32_t            *from;       /* [k][i]: where the one that ends at i - 1 begins; -1 */
	struct window       window;
};

static void window_clear(struct window *w, int32_t next)
{
	w->front = w->back = 0;
	w->next = next;
}

/* On a tie the later one: the stretch is shorter. */
static void window_push(struct window *w, int32_t begin, int64_t value)
{
	while (w->back > w->front && w->value[w->back - 1] <= value)
		w->back--;
	w->begin[w->back] = begin;
	w->value[w->back++] = value;
}

/* The best of at most k stretches, from the best of at most k - 1. */
static void row_of(struct search *s, int k, int32_t longest, int64_t each)
{
	size_t width = (size_t)s->n + 1;
	const int64_t *before = s->best + (size_t)(k - 1) * width;
	int64_t *best = s->best + (size_t)k * width;
	int32_t *from = s->from + (size_t)k * width;
	struct window *w = &s->window;

	window_clear(w, 0);
	best[0] = 0;
	for (int32_t end = 0; end < s->n; end++) {
		const struct place *at = &s->p[end];
		best[end + 1] = best[end];
		from[end + 1] = -1;
		if (at->stop) {
			window_clear(w, end + 1);
			continue;
		}
		for (; w->next <= end - at->least + 1; w->next++)
			if (s->p[w->next].limit)
				window_push(w, w->next, before[w->next] - s->sum[w->next]);
		while (w->front < w->back && w->begin[w->front] < end - longest + 1)
			w->front++;
		if (!at->limit || w->front == w->back)
			continue;
		int64_t worth = w->value[w->front] + s->sum[end + 1] - each;
		if (worth > best[end + 1]) {
			best[end + 1] = worth;
			from[end + 1] = w->begin[w->front];
		}
	}
}

/* Back from the end of the row to its beginning. */
static int trace(const struct search *s, int most, int64_t each, struct stretch *out)
{
	int32_t i = s->n;
	int found = 0;

	for (int k = most; i > 0 && k > 0; ) {
		size_t at = (size_t)k * ((size_t)s->n + 1) + (size_t)i;
		int32_t from = s->from[at];
		if (s->best[at] == s->best[at - (size_t)s->n - 1]) {
			k--;            /* as much with fewer */
			continue;
		}
		if (from < 0) {
			i--;
			continue;
		}
		out[found++] = (struct stretch){ from, i - 1, s->sum[i] - s->sum[from] - each };
		i = from;
		k--;
	}
	for (int a = 0, b = found - 1; a < b; a++, b--) {
		struct stretch t = out[a];
		out[a] = out[b];
		out[b] = t;
	}
	return found;
}

int stretches_best(const struct place *p, int32_t n, int32_t longest, int64_t each, int most,
		   struct stretch *out)
{
	size_t width = (size_t)n + 1, rows = (size_t)(most > 0 ? most : 0) + 1;
	struct search s = { .p = p, .n = n };
	int result = -1;

	s.sum = calloc(width, sizeof *s.sum);
	s.best = calloc(rows * width, sizeof *s.best);
	s.from = calloc(rows * width, sizeof *s.from);
	s.window.begin = calloc(width, sizeof *s.window.begin);
	s.window.value = calloc(width, sizeof *s.window.value);
	if (!s.sum || !s.best || !s.from || !s.window.begin || !s.window.value)
		goto out;
	for (int32_t i = 0; i < n; i++)
		s.sum[i + 1] = s.sum[i] + p[i].worth;
	for (int k = 1; k <= most; k++)
		row_of(&s, k, longest, each);
	result = trace(&s, most, each, out);
out:
	free(s.sum);
	free(s.best);
	free(s.from);
	free(s.window.begin);
	free(s.window.value);
	return result;
}
