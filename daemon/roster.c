#include "daemon/roster.h"

#include <stdlib.h>

#define CHANGED 1.3     /* a cost that differs less than this may be chance */

int roster_create(struct roster *r, int posts, int hops, double visit_us)
{
	*r = (struct roster){ .posts = posts, .hops = hops };
	r->post = calloc((size_t)hops + 1, sizeof *r->post);
	r->home = calloc((size_t)hops + 1, sizeof *r->home);
	if (!r->post || !r->home) {
		roster_free(r);
		return -1;
	}
	for (int i = 0; i < hops; i++)
		r->post[i] = r->home[i] = (int)((int64_t)i * posts / hops);
	for (int i = 0; i < posts; i++)
		r->cost_us[i] = visit_us;
	return 0;
}

void roster_free(struct roster *r)
{
	free(r->post);
	free(r->home);
	*r = (struct roster){ 0 };
}

void roster_cost(struct roster *r, int post, double visit_us)
{
	if (visit_us > CHANGED * r->cost_us[post] || visit_us < r->cost_us[post] / CHANGED)
		r->cost_us[post] = visit_us;
}

/* How long its sweep would take with so many more hops. */
static double load(const struct roster *r, int post, int more)
{
	int n = more;

	for (int i = 0; i < r->hops; i++)
		n += r->post[i] == post;
	return n * r->cost_us[post];
}

/* The one ready that would be done soonest with one hop more; -1: none. */
static int idlest(const struct roster *r)
{
	int best = -1;

	for (int i = 0; i < r->posts; i++)
		if (r->is[i] == POST_READY && (best < 0 || load(r, i, 1) < load(r, best, 1)))
			best = i;
	return best;
}

static int busiest(const struct roster *r)
{
	int most = -1;

	for (int i = 0; i < r->posts; i++)
		if (r->is[i] == POST_READY && (most < 0 || load(r, i, 0) > load(r, most, 0)))
			most = i;
	return most;
}

/* One of from's hops, at home with to if there is such. */
static int one_of(const struct roster *r, int from, int to)
{
	int any = -1;

	for (int i = 0; i < r->hops; i++) {
		if (r->post[i] == from && r->home[i] == to)
			return i;
		if (r->post[i] == from)
			any = i;
	}
	return any;
}

void roster_share(struct roster *r, void (*moved)(void *self, int hop, int from, int to),
		  void *self)
{
	int to = idlest(r);

	if (to < 0)
		return;
	for (int i = 0; i < r->hops; i++) {
		if (r->is[r->post[i]] != POST_AWAY)
			continue;
		int from = r->post[i];
		to = idlest(r);
		r->post[i] = to;
		moved(self, i, from, to);
	}
	for (;;) {
		int from = busiest(r);
		to = idlest(r);
		if (load(r, to, 1) >= load(r, from, 0))
			return;
		int hop = one_of(r, from, to);
		r->post[hop] = to;
		moved(self, hop, from, to);
	}
}
