#include "daemon/ears.h"

#define LEARN_LOOKS   128       /* what the passband is learnt from                     */
#define PLACES_ENOUGH 4         /* hops from which a passband shows through the signals */

int hop_seats(const struct hop *h)
{
	int n = 0;

	for (int i = 0; i < h->n_spans; i++)
		n += h->spans[i].count;
	return n;
}

static int most_seats(const struct hop_plan *p)
{
	int most = 0;

	for (int i = 0; i < p->n; i++)
		if (hop_seats(&p->hops[i]) > most)
			most = hop_seats(&p->hops[i]);
	return most;
}

/* Where a transform length is, or is to be; EARS: there is no room. */
static int slot(const struct ears *e, int bins)
{
	int k = 0;

	while (k < EARS && e->bins[k] && e->bins[k] != bins)
		k++;
	return k;
}

int ears_create(struct ears *e, const struct watch *n, int64_t look_us, struct fault *why)
{
	int seats = most_seats(n->hops);

	*e = (struct ears){ 0 };
	for (int i = 0; i < n->hops->n; i++) {
		const struct hop *h = &n->hops->hops[i];
		int k = slot(e, h->bins);
		if (k == EARS)
			return fault_set(why, FAULT_FATAL,
					 "hops need more than %d transform lengths", EARS);
		if (e->bins[k])
			continue;
		e->bins[k] = h->bins;
		e->ear[k] = ear_create(&(struct ear_wants){
			.rate_hz = h->rate_hz, .bins = h->bins,
			.samples = look_samples(h->rate_hz, h->bins, look_us),
			.sense = { n->station->false_alarm, n->station->margin_db },
			.bands = n->bands, .n_bands = n->n_bands, .max_seats = seats,
			.one_place = n->hops->n < PLACES_ENOUGH });
		if (!e->ear[k])
			return fault_set(why, FAULT_FATAL, "no memory to listen with");
	}
	return 0;
}

void ears_free(struct ears *e)
{
	for (int i = 0; i < EARS; i++)
		ear_destroy(e->ear[i]);
	*e = (struct ears){ 0 };
}

struct ear *ears_for(const struct ears *e, const struct hop *hop)
{
	int k = slot(e, hop->bins);

	return k < EARS ? e->ear[k] : NULL;
}

struct lesson lesson_of(const struct source_about *about, int64_t look_us)
{
	int64_t looks = about->tunable ? 0 : about->length_us / look_us;

	return (struct lesson){ .stride = looks > LEARN_LOOKS ? looks / LEARN_LOOKS : 1 };
}

int lesson_hop(const struct lesson *l, const struct hop_plan *hops)
{
	return (int)(l->blocks % hops->n);
}

bool lesson_learn(struct lesson *l, const struct ears *e, const struct hop *hop,
		  const struct block *b)
{
	if (l->blocks % l->stride == 0)
		ear_learn(ears_for(e, hop), b);
	l->blocks++;
	return l->blocks >= LEARN_LOOKS * l->stride;
}

void ears_settle(const struct ears *e)
{
	for (int i = 0; i < EARS; i++)
		if (e->ear[i])
			ear_settle(e->ear[i]);
}
