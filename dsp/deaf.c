#include "dsp/deaf.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#define CLIPPED 0.001           /* of the samples: a strong one takes the tuner's gain */

/* What is known of a hop. */
struct ground {
	double  least_db;
	int     looks;          /* that least_db was learnt from, up to DEAF_LEARNT     */
	int     falls;          /* spells in a row in which it had fallen               */
	int64_t spell;          /* the last of them                                     */
};

struct deaf {
	struct ground     *ground;      /* [hops]                                       */
	int                hops;
	int64_t            spell;       /* number of it: from 1 on                      */
	bool               fallen;      /* nothing else came since it began             */
	struct deaf_state  state;
};

struct deaf *deaf_create(int hops)
{
	struct deaf *d = calloc(1, sizeof *d);

	if (!d)
		return NULL;
	d->hops = hops;
	d->ground = calloc((size_t)hops + 1, sizeof *d->ground);
	if (!d->ground)
		goto fail;
	deaf_reset(d);
	return d;
fail:
	deaf_destroy(d);
	return NULL;
}

void deaf_destroy(struct deaf *d)
{
	if (!d)
		return;
	free(d->ground);
	free(d);
}

void deaf_reset(struct deaf *d)
{
	memset(d->ground, 0, ((size_t)d->hops + 1) * sizeof *d->ground);
	d->spell = 1;
	d->fallen = false;
	d->state = (struct deaf_state){ HEARING_UNTOLD, 0 };
}

static enum hearing learn(struct ground *g, double db)
{
	if (g->looks == 0 || db < g->least_db)
		g->least_db = db;
	g->looks++;
	return HEARING_UNTOLD;
}

static enum hearing hears(struct deaf *d, struct ground *g, double db)
{
	if (db < g->least_db)
		g->least_db = fmax(db, g->least_db - DEAF_STEP_DB);
	g->falls = 0;
	d->spell += d->fallen;
	d->fallen = false;
	return HEARING_WELL;
}

/* Once more fallen: the receiver, or this band alone? */
static enum hearing falls(struct deaf *d, struct ground *g, double db)
{
	g->falls += g->spell != d->spell;
	g->spell = d->spell;
	if (g->falls > DEAF_SPELLS) {
		g->least_db = db;
		return hears(d, g, db);
	}
	d->fallen = true;
	d->state.fall_db = g->least_db - db;
	return HEARING_NOTHING;
}

enum hearing deaf_look(struct deaf *d, int hop, const struct look *l, double noise)
{
	struct ground *g = &d->ground[hop];
	double db = 10 * log10(fmax(noise, 1e-30));

	assert(hop >= 0 && hop < d->hops);
	d->state.fall_db = 0;
	if (!look_holds(l) || l->clipped > CLIPPED)
		d->state.last = HEARING_UNTOLD;
	else if (g->looks < DEAF_LEARNT)
		d->state.last = d->fallen ? HEARING_NOTHING : learn(g, db);
	else if (db < g->least_db - DEAF_FALL_DB)
		d->state.last = falls(d, g, db);
	else
		d->state.last = hears(d, g, db);
	return d->state.last;
}

struct deaf_state deaf_state(const struct deaf *d)
{
	return d->state;
}
