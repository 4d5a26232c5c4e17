#include "daemon/errand.h"

void errand_begin(struct errand *e, const struct visit *v)
{
	e->visit = *v;
	e->left = v->looks;
	e->overs = 0;
	e->tuned = false;
}

void errand_drop(struct errand *e)
{
	e->left = 0;
	e->tuned = e->ordered = false;
}

/* The one place where a tuning is made. */
static struct tuning tuning_for(const struct watch *n, const struct visit *v, double ppm)
{
	const struct hop *h = &n->hops->hops[v->hop];

	return (struct tuning){
		.centre = { h->centre.thirds + v->moved.thirds }, .rate_hz = h->rate_hz,
		.ppm = ppm,
		.gain_tenth_db = (int)(n->station->gain_db * 10 + 0.5) - v->lowered_tenth_db,
	};
}

/* An order for another one than came to be is overtaken by a new one. */
int errand_tune(struct errand *e, const struct watch *n, const struct watch_source *is, double ppm,
		struct fault *why)
{
	const struct visit *v = &e->visit;
	bool ordered = e->ordered && v->kind == VISIT_SWEEP && v->hop == e->next;
	struct tuning to = tuning_for(n, v, ppm);
	int result;

	if (e->tuned)
		return 0;
	if (ordered && e->result != 0)
		*why = e->trouble;
	result = ordered ? e->result : is->ops->tune(is->source, &to, why);
	e->ordered = false;
	e->tuned = result == 0;
	return result;
}

void errand_order(struct errand *e, const struct watch *n, const struct watch_source *is,
		  double ppm, int hop)
{
	const struct visit v = { .kind = VISIT_SWEEP, .hop = hop, .looks = 1 };
	struct tuning to = tuning_for(n, &v, ppm);

	if (is->about.virtual_clock || *n->stop)
		return;
	e->next = hop;
	e->result = is->ops->tune(is->source, &to, &e->trouble);
	e->ordered = true;
}
