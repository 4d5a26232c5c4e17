#include "daemon/inquirer.h"

#include <stdlib.h>

#include "dsp/inquiry.h"

struct inquirer {
	const struct watch *n;
	struct inquiry    **of;         /* [n->n_sources] */
};

/* The longest look any source may send. */
static size_t look_most(const struct watch *n)
{
	static const struct source_about tuned = { .tunable = true }, stream = { 0 };
	size_t most = 0;

	for (int i = 0; i < n->hops->n; i++) {
		const struct hop *h = &n->hops->hops[i];
		size_t dwell = look_samples(h->rate_hz, h->bins, watch_look_us(n->station, &tuned));
		size_t piece =
			look_samples(h->rate_hz, h->bins, watch_look_us(n->station, &stream));
		most = dwell > most ? dwell : most;
		most = piece > most ? piece : most;
	}
	return most;
}

struct inquirer *inquirer_create(const struct watch *n)
{
	struct inquirer *q = calloc(1, sizeof *q);
	if (!q)
		return NULL;
	q->n = n;
	q->of = calloc((size_t)n->n_sources + 1, sizeof(*q->of));
	if (!q->of)
		goto fail;
	for (int i = 0; i < n->n_sources && n->hops->n > 0; i++) {
		q->of[i] = inquiry_create(n->hops->hops[0].rate_hz, look_most(n));
		if (!q->of[i])
			goto fail;
	}
	return q;
fail:
	inquirer_destroy(q);
	return NULL;
}

void inquirer_destroy(struct inquirer *q)
{
	if (!q)
		return;
	for (int i = 0; q->of && i < q->n->n_sources; i++)
		inquiry_destroy(q->of[i]);
	free(q->of);
	free(q);
}

void inquirer_hear(struct inquirer *q, int post, const struct block *b, const struct judged *j,
		   bool stays)
{
	if (j->findings > 0)
		inquiry_load(q->of[post], b);
	for (int i = 0; i < j->findings; i++) {
		const struct finding *f = &j->finding[i];
		inquiry_hear(
			q->of[post],
			&(struct busy){ .bands = q->n->bands,
					.band = f->band,
					.channel = f->channel,
					.offset_hz = f->offset_hz,
					.width_hz = f->width_hz,
					.noise = f->floor / band_measured_hz(&q->n->bands[f->band]),
					.stays = stays });
	}
}

/* What a stay measured, as far as it applies to the over's kind: a carrier has no depth, and
 * AM no deviation. */
static void measure(struct transmission *t, const struct answer *a)
{
	const struct features *f = &a->features;
	bool fm = t->kind == KIND_NFM || t->kind == KIND_WFM;

	t->heard_s = a->stayed_s;
	t->occupied_hz = f->width_hz;
	t->down26_hz = f->width_26db_hz;
	t->deviation_hz = fm ? f->deviation_hz : 0;
	t->am_depth = t->kind == KIND_AM ? f->am_depth : 0;
	t->below = a->below;
}

void inquirer_answer(struct inquirer *q, struct transmission *t)
{
	struct answer best = { 0 }, a;

	/* All are asked: it is over for each of them. */
	for (int i = 0; i < q->n->n_sources; i++)
		if (inquiry_take(q->of[i], t->band, t->channel, &a) &&
		    a.features.seconds > best.features.seconds)
			best = a;
	t->kind = best.kind;
	t->confidence = best.confidence;
	if (best.stayed_s > 0 && best.features.frames > 0)
		measure(t, &best);
}
