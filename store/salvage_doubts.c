#include "store/salvage.h"

#include <stdlib.h>
#include <string.h>

#define DEPTH_MOST 20                   /* no tree of SQLite's is as high */
#define OF_ACTIVITY (HOLDS_TABLE + TABLE_ACTIVITY)

int64_t salvage_key(int32_t band, int32_t channel)
{
	return (int64_t)band << 32 | (uint32_t)channel;
}

/* The pages of activity that no other one names: one, the root, or what is left when it is gone. */
struct top {
	uint32_t page;
	int64_t  first, last;           /* its own keys */
};

struct search {
	struct salvage *s;
	struct doubt   *doubt;
	int             n, room;
	bool           *named;          /* [pages + 1] by a page of activity */
	bool           *seen;           /* [pages + 1]                       */
	struct top     *top;
	int             tops, all_tops; /* without a name; with one, behind those */
	bool            no_memory;
};

static void add_doubt(struct search *x, int64_t from, int64_t to)
{
	if (x->n == x->room) {
		int room = 2 * x->room + 16;
		struct doubt *more = reallocarray(x->doubt, (size_t)room, sizeof *more);
		if (!more) {
			x->no_memory = true;
			return;
		}
		x->doubt = more;
		x->room = room;
	}
	x->doubt[x->n++] = (struct doubt){ from, to };
}

/* A page's keys and what lies below it, for a branch the last page too. */
struct fork {
	int       n;
	bool      branch;
	int64_t  *key;                  /* [n]     */
	uint32_t *below;                /* [n + 1] */
};

static void fork_free(struct fork *f)
{
	free(f->key);
	free(f->below);
}

static bool read_fork(struct search *x, uint32_t page, struct fork *f)
{
	struct part parts[SALVAGE_COLUMNS];
	struct cell c;
	enum page_kind kind = pages_take(x->s->pages, page, &f->n);

	f->branch = kind == PAGE_KEY_BRANCH;
	f->key = calloc((size_t)f->n + 1, sizeof *f->key);
	f->below = calloc((size_t)f->n + 1, sizeof *f->below);
	if (!f->key || !f->below) {
		x->no_memory = true;
		return false;
	}
	for (int i = 0; i < f->n; i++) {
		if (pages_cell(x->s->pages, i, &c, parts, SALVAGE_COLUMNS) < 2)
			return false;
		f->key[i] = salvage_key((int32_t)parts[0].number, (int32_t)parts[1].number);
		f->below[i] = c.below;
	}
	f->below[f->n] = pages_last_below(x->s->pages);
	return true;
}

/* All between from and to that may have lain on pages that are lost. */
static void walk(struct search *x, uint32_t page, int64_t from, int64_t to, int depth)
{
	struct fork f = { 0 };
	bool there = page >= 1 && page <= pages_count(x->s->pages) && depth < DEPTH_MOST &&
		     !x->seen[page] && x->s->holds[page] == OF_ACTIVITY;

	if (!there || !read_fork(x, page, &f)) {
		add_doubt(x, from, to);
		fork_free(&f);
		return;
	}
	x->seen[page] = true;
	for (int i = 0; i <= f.n && f.branch; i++) {
		int64_t up_to = i < f.n ? f.key[i] : to;
		if (up_to < from) {     /* of another place in the tree */
			add_doubt(x, 0, SALVAGE_CHANNELS_END);
			break;
		}
		walk(x, f.below[i], from, up_to, depth + 1);
		from = up_to;
	}
	if (!f.branch && (f.key[0] < from || f.key[f.n - 1] > to))
		add_doubt(x, 0, SALVAGE_CHANNELS_END);
	fork_free(&f);
}

static int by_first(const void *a, const void *b)
{
	const struct top *x = a, *y = b;

	return (x->first > y->first) - (x->first < y->first);
}

/* Each page of activity, and whom it names. */
static void find_tops(struct search *x)
{
	uint32_t pages = pages_count(x->s->pages);

	for (uint32_t i = 1; i <= pages && !x->no_memory; i++) {
		struct fork f = { 0 };
		if (x->s->holds[i] == OF_ACTIVITY && read_fork(x, i, &f)) {
			x->top[x->tops++] = (struct top){ i, f.key[0], f.key[f.n - 1] };
			for (int k = 0; k <= f.n && f.branch; k++)
				if (f.below[k] <= pages)
					x->named[f.below[k]] = true;
		}
		fork_free(&f);
	}
	x->all_tops = x->tops;
	x->tops = 0;
	for (int i = 0; i < x->all_tops; i++)
		if (!x->named[x->top[i].page]) {
			struct top t = x->top[x->tops];
			x->top[x->tops++] = x->top[i];
			x->top[i] = t;
		}
	qsort(x->top, (size_t)x->tops, sizeof *x->top, by_first);
}

/* Where the list of tables says that activity begins; 0: it can't be read. */
static uint32_t root(struct search *x)
{
	struct part parts[SALVAGE_COLUMNS];
	struct cell c;
	int cells;
	const char *name = survey_table_name(TABLE_ACTIVITY);

	/* Its list goes over to other pages once it is long: one after the other will do. */
	for (uint32_t i = 1; i <= pages_count(x->s->pages); i++) {
		if (x->s->holds[i] >= HOLDS_TABLE ||
		    pages_take(x->s->pages, i, &cells) != PAGE_LEAF)
			continue;
		for (int k = 0; k < cells; k++)
			if (pages_cell(x->s->pages, k, &c, parts, SALVAGE_COLUMNS) == 5 &&
			    parts[0].n == 5 && memcmp(parts[0].bytes, "table", 5) == 0 &&
			    parts[1].n == strlen(name) &&
			    memcmp(parts[1].bytes, name, parts[1].n) == 0 && parts[3].number >= 1 &&
			    parts[3].number <= pages_count(x->s->pages))
				return (uint32_t)parts[3].number;
	}
	return 0;
}

/* No root: each piece of the tree by itself, and all between two of them is lost. */
static void walk_pieces(struct search *x)
{
	int64_t from = 0;

	for (int i = 0; i < x->tops; i++) {
		int64_t to = i + 1 < x->tops ? x->top[i + 1].first : SALVAGE_CHANNELS_END;
		add_doubt(x, from, x->top[i].first);
		walk(x, x->top[i].page, from, to, 0);
		from = x->top[i].last;
	}
	add_doubt(x, from, SALVAGE_CHANNELS_END);
}

static int in_order(const void *a, const void *b)
{
	const struct doubt *x = a, *y = b;

	return (x->from > y->from) - (x->from < y->from);
}

static void put_in_order(struct search *x)
{
	if (x->n > 1)
		qsort(x->doubt, (size_t)x->n, sizeof *x->doubt, in_order);
}

/* Whether the first n doubts, in order, leave no gap from here to there. */
static bool in_doubt(const struct search *x, int n, int64_t from, int64_t to)
{
	bool in = false;

	for (int i = 0; i < n; i++)
		if (x->doubt[i].from <= from && x->doubt[i].to >= from) {
			from = x->doubt[i].to;
			in = true;
		}
	return in && from >= to;
}

/* Pages that the tree does not lead to lie where a page of it is lost; else the tree is not the
 * right one, a page of it having come to lie on another's place. */
static void check_strays(struct search *x)
{
	int n = x->n;

	put_in_order(x);
	for (int i = 0; i < x->all_tops; i++) {
		const struct top *t = &x->top[i];
		if (!x->seen[t->page] && !in_doubt(x, n, t->first, t->last)) {
			add_doubt(x, 0, SALVAGE_CHANNELS_END);
			return;
		}
	}
}

/* Rows of activity lie channel by channel, in all versions so far. */
static bool by_channel(const struct layout *l)
{
	return l->by_key && strcmp(l->column[0].name, "band") == 0 &&
	       strcmp(l->column[1].name, "channel") == 0;
}

static void search(struct search *x)
{
	if (!by_channel(&x->s->layout[TABLE_ACTIVITY])) {
		if (x->s->pages_lost > 0)
			add_doubt(x, 0, SALVAGE_CHANNELS_END);
		return;
	}
	uint32_t at = root(x);

	find_tops(x);
	/* The file's head alone may be gone, and all of the tree there. */
	if (at == 0 && x->tops == 1 && x->s->pages_lost <= 1)
		at = x->top[0].page;
	if (at && x->s->holds[at] == HOLDS_NOTHING && !pages_free(x->s->pages, at))
		;                       /* nothing was ever heard */
	else if (at && x->s->holds[at] == OF_ACTIVITY)
		walk(x, at, 0, SALVAGE_CHANNELS_END, 0);
	else
		walk_pieces(x);
	check_strays(x);
	put_in_order(x);
}

int salvage_doubts(struct salvage *s, struct doubt **doubts)
{
	size_t n = (size_t)pages_count(s->pages) + 1;
	struct search x = {
		.s = s, .named = calloc(n, 1), .seen = calloc(n, 1), .top = calloc(n, sizeof *x.top)
	};

	x.no_memory = !x.named || !x.seen || !x.top;
	if (!x.no_memory)
		search(&x);
	free(x.named);
	free(x.seen);
	free(x.top);
	*doubts = x.doubt;
	if (!x.no_memory)
		return x.n;
	free(x.doubt);
	*doubts = NULL;
	return -1;
}
