#include "daemon/deafness.h"

#include <inttypes.h>

#include "daemon/log.h"

#define WELL_US 3000000         /* hears for so long, a sweep or so: it is over        */

/* How long it is deaf without a break before each remedy, in seconds; the last for ever after. */
static const int remedy_s[] = { 3, 5, 10, 30, 60, 120 };

#define LAST ((int)(sizeof remedy_s / sizeof remedy_s[0]) - 1)

int deafness_create(struct deafness *d, const struct watch *n, int number, struct ledger *l)
{
	*d = (struct deafness){
		.n = n, .source = &n->sources[number], .ledger = l, .due_mono = -1
	};
	if (!d->source->about.tunable)
		return 0;
	d->deaf = deaf_create(n->hops->n);
	return d->deaf ? 0 : -1;
}

void deafness_free(struct deafness *d)
{
	deaf_destroy(d->deaf);
}

static int64_t patience_us(const struct deafness *d)
{
	return (int64_t)remedy_s[d->remedies < LAST ? d->remedies : LAST] * 1000000;
}

static void tell(struct deafness *d, int64_t until_us)
{
	double s = (double)(until_us - d->from_us) * 1e-6;

	if (d->looks == 0)
		return;
	progress_clear(d->n->progress);
	log_line(LOG_NOTICE, "%s: source=\"%s\" deaf=%.1fs looks=%" PRId64 " below=%.1fdB",
		 d->until_us ? "source hears again" : "source is still deaf",
		 d->source->about.label, s, d->looks, d->fall_db);
	ledger_incident(d->ledger, "deaf", d->from_us, until_us, "%s was deaf: its noise lay up to "
			"%.1f dB below the least before in %" PRId64 " looks, which do not count",
			d->source->about.label, d->fall_db, d->looks);
	d->looks = d->remedies = 0;
	d->fall_db = 0;
}

static void hears_nothing(struct deafness *d, const struct block *b)
{
	double fall_db = deaf_state(d->deaf).fall_db;

	if (d->due_mono < 0)
		d->due_mono = b->mono_us + patience_us(d);
	if (d->looks == 0) {
		progress_clear(d->n->progress);
		log_line(LOG_WARNING,
			 "source is deaf: its noise fell by %.1f dB, looks do not count: "
			 "source=\"%s\"",
			 fall_db, d->source->about.label);
		d->from_us = b->start_us;
	}
	d->until_us = 0;
	d->looks++;
	d->fall_db = fmax(d->fall_db, fall_db);
}

static void hears(struct deafness *d, const struct block *b)
{
	d->due_mono = -1;
	if (d->looks == 0)
		return;
	if (d->until_us == 0) {
		d->until_us = b->start_us;
		d->well_mono = b->mono_us;
	}
	if (b->mono_us - d->well_mono >= WELL_US)
		tell(d, d->until_us);
}

enum hearing deafness_follow(struct deafness *d, const struct block *b)
{
	enum hearing now = d->deaf ? deaf_state(d->deaf).last : HEARING_UNTOLD;

	d->last_mono = b->mono_us;
	if (now == HEARING_NOTHING)
		hears_nothing(d, b);
	else if (now == HEARING_WELL)
		hears(d, b);
	return now;
}

bool deafness_wants_remedy(struct deafness *d)
{
	if (!d->source->ops->renew || d->due_mono < 0 || d->last_mono < d->due_mono)
		return false;
	progress_clear(d->n->progress);
	if (d->remedies == 0)
		log_line(LOG_WARNING,
			 "source is set up from nothing, for it is deaf: source=\"%s\"",
			 d->source->about.label);
	d->remedies++;
	d->due_mono = d->last_mono + patience_us(d);
	return true;
}

void deafness_forget(struct deafness *d)
{
	if (d->deaf)
		deaf_reset(d->deaf);
	d->due_mono = -1;
}

void deafness_end(struct deafness *d, int64_t now_us)
{
	tell(d, d->until_us ? d->until_us : now_us);
}
