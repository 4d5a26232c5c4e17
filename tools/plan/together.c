#include "tools/plan/together.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FEW_DRAWS 2             /* enough to compare two choices on the same nights */

/* One search: buffers sized once. */
struct search_of {
	const struct tryout    *t;
	const struct candidate *c;
	int          n, draws, tried;
	bool         joining;           /* those who sit or were passed over stay so    */
	struct seat *seat;
	struct part *part;
};

static int lines_of(const struct tryout *t)
{
	return t->draws > 0 ? t->draw[0].lines : 0;
}

static int begin(struct search_of *s, const struct tryout *t, const struct candidate *c, int n)
{
	*s = (struct search_of){ .t = t, .c = c, .n = n, .draws = t->draws };
	s->seat = calloc((size_t)n + 1, sizeof *s->seat);
	s->part = calloc((size_t)lines_of(t) + 1, sizeof *s->part);
	return s->seat && s->part ? 0 : -1;
}

static void end(struct search_of *s)
{
	free(s->seat);
	free(s->part);
}

/* Leaves in s->part what became of each line, over the draws. */
static double worth(struct search_of *s, const bool *in)
{
	struct stage g = { .seat = s->seat, .look_s = s->t->look_s, .priority = -1 };
	double got = 0, of = 0;

	s->tried++;
	memset(s->part, 0, ((size_t)lines_of(s->t) + 1) * sizeof *s->part);
	for (int i = 0; i < s->n; i++)
		if (in[i])
			s->seat[g.seats++] = (struct seat){ s->c[i].line, s->c[i].delay_s };
	if (g.seats == 0)
		return 0;
	for (int d = 0; d < s->draws; d++)
		if (rehearse(&s->t->draw[d], &g, 0.37 * d, s->part) < 0)
			return -1;
	for (int i = 0; i < s->n; i++) {
		const struct part *p = &s->part[s->c[i].line];
		of += s->c[i].weight;
		if (in[i])
			got += s->c[i].weight * (p->air_s > 0 ? p->heard_s / p->air_s : 1);
	}
	return of > 0 ? got / of : 0;
}

double together_worth(const struct tryout *t, const struct candidate *c, int n, const bool *in)
{
	struct search_of s;
	double got = begin(&s, t, c, n) < 0 ? -1 : worth(&s, in);

	end(&s);
	return got;
}

/* Those that hold the receiver longest for what they are worth come first. */
struct rank {
	int    at;
	double held;
};

static int by_held(const void *a, const void *b)
{
	const struct rank *x = a, *y = b;

	if (x->held != y->held)
		return x->held > y->held ? -1 : 1;
	return x->at - y->at;
}

static void rank_all(const struct search_of *s, struct rank *rank)
{
	for (int i = 0; i < s->n; i++)
		rank[i] = (struct rank){ i, s->part[s->c[i].line].held_s /
						    fmax(0.01, s->c[i].weight) };
	qsort(rank, (size_t)s->n, sizeof *rank, by_held);
}

/* Takes each out where that is worth more than gain, or puts it back where it is worth more than
 * back; whether any was. */
static int improve(struct search_of *s, const struct rank *rank, double gain, double back, bool *in,
		   double *best)
{
	int changed = 0;

	for (int k = 0; k < s->n; k++) {
		int i = rank[k].at;
		if (s->c[i].must || (s->joining && (s->c[i].held || s->c[i].passed)))
			continue;
		in[i] = !in[i];
		double now = worth(s, in);
		if (now < 0)
			return -1;
		if (now > *best + (in[i] ? back : gain)) {
			*best = now;
			changed = 1;
		} else {
			in[i] = !in[i];
		}
	}
	return changed;
}

/* A line begins or ends. */
struct turn {
	double t;
	int    line;
	bool   on;
};

static int by_time(const void *a, const void *b)
{
	const struct turn *x = a, *y = b;

	return (x->t > y->t) - (x->t < y->t);
}

static int turns_of(const struct script *script, struct turn *turn)
{
	int n = 0;

	for (int k = 0; k < script->cues; k++) {
		turn[n++] = (struct turn){ script->cue[k].on_s, script->cue[k].line, true };
		turn[n++] = (struct turn){ script->cue[k].off_s, script->cue[k].line, false };
	}
	qsort(turn, (size_t)n, sizeof *turn, by_time);
	return n;
}

/* What is got by going at each moment to the one on the air that gives most for a second; on:
 * all false, by line. */
static double best_of(const struct search_of *s, const struct turn *turn, int n, const double *rate,
		      bool *on)
{
	double got = 0;

	for (int k = 0; k + 1 < n; k++) {
		double most = 0;
		on[turn[k].line] = turn[k].on;
		for (int i = 0; i < s->n; i++)
			if (on[s->c[i].line])
				most = fmax(most, rate[s->c[i].line]);
		got += most * (turn[k + 1].t - turn[k].t);
	}
	return got;
}

/* Follows on a worth of all: the time each is on the air is in s->part. */
static int bound(const struct search_of *s, double *out)
{
	size_t lines = (size_t)lines_of(s->t) + 1;
	double got = 0, of = 0, *rate = calloc(lines, sizeof *rate);
	bool *on = calloc(lines, sizeof *on);
	struct turn *turn = NULL;
	int result = -1;

	if (!rate || !on)
		goto out;
	for (int i = 0; i < s->n; i++) {
		double air_s = s->part[s->c[i].line].air_s;
		of += s->c[i].weight;
		got += air_s > 0 ? 0 : s->c[i].weight;
		rate[s->c[i].line] = air_s > 0 ? s->c[i].weight / air_s : 0;
	}
	for (int d = 0; d < s->t->draws; d++) {
		const struct script *script = &s->t->draw[d];
		struct turn *more = reallocarray(turn, 2 * (size_t)script->cues + 1, sizeof *more);
		if (!more)
			goto out;
		turn = more;
		memset(on, 0, lines * sizeof *on);
		got += best_of(s, turn, turns_of(script, turn), rate, on);
	}
	*out = of > 0 ? fmin(1, got / of) : 0;
	result = 0;
out:
	free(rate);
	free(on);
	free(turn);
	return result;
}

/* From the choice that in has, on so many draws and then judged on all. */
static double climb(struct search_of *s, const struct rank *rank, int draws, double gain,
		    double back, bool *in)
{
	s->draws = s->t->draws < draws ? s->t->draws : draws;
	double best = worth(s, in);
	for (int pass = 0, more = 1; pass < 4 && more; pass++)
		if ((more = improve(s, rank, gain, back, in, &best)) < 0)
			return -1;
	s->draws = s->t->draws;
	return worth(s, in);
}

/* Those who sit there already keep their seats and others join them, unless the choice made afresh is
 * worth all its changes. */
static int prefer_held(struct search_of *s, const struct rank *rank, bool *in, double *chosen)
{
	bool *from = calloc((size_t)s->n + 1, sizeof *from), any = false;
	double got = -1;
	int others = 0;

	s->joining = true;
	for (int i = 0; from && i < s->n; i++) {
		from[i] = s->c[i].must || s->c[i].held;
		any |= s->c[i].held;
	}
	if (from)
		got = any ? climb(s, rank, s->t->draws, TOGETHER_MOVE, TOGETHER_MOVE, from) : 0;
	for (int i = 0; from && i < s->n; i++)
		others += from[i] != in[i];
	if (any && got >= 0 && got + TOGETHER_MOVE * others >= *chosen) {
		memcpy(in, from, (size_t)s->n * sizeof *from);
		*chosen = got;
	}
	free(from);
	return got < 0 ? -1 : 0;
}

double together_bound(const struct tryout *t, const struct candidate *c, int n)
{
	struct search_of s;
	bool *in = calloc((size_t)n + 1, sizeof *in);
	double got = -1;

	if (begin(&s, t, c, n) == 0 && in) {
		for (int i = 0; i < n; i++)
			in[i] = true;
		if (worth(&s, in) < 0 || bound(&s, &got) < 0)
			got = -1;
	}
	end(&s);
	free(in);
	return got;
}

int together_choose(const struct tryout *t, const struct candidate *c, int n, double gain, bool *in,
		    struct together *out)
{
	struct search_of s;
	struct rank *rank = calloc((size_t)n + 1, sizeof *rank);
	int result = -1;

	*out = (struct together){ 0 };
	if (begin(&s, t, c, n) < 0 || !rank)
		goto out;
	for (int i = 0; i < n; i++)
		in[i] = true;
	out->all = worth(&s, in);
	if (out->all < 0 || bound(&s, &out->bound) < 0)
		goto out;
	rank_all(&s, rank);
	out->chosen = climb(&s, rank, FEW_DRAWS, gain, 0, in); /* coming back asks for nothing */
	out->tried = s.tried;
	if (out->chosen < 0)
		goto out;
	if (out->chosen < out->all)             /* the few draws misled it */
		for (int i = 0; i < n; i++)
			in[i] = true;
	out->chosen = fmax(out->chosen, out->all);
	result = prefer_held(&s, rank, in, &out->chosen);
out:
	end(&s);
	free(rank);
	return result;
}
