#include "tools/plan/typed.h"

#include <stdio.h>

#include "tools/plan/guess.h"

static const struct band *band_of(const struct census *c, const struct memory *m)
{
	if (m->channel >= 0)
		return &c->band[c->channel[m->channel].band];
	for (int b = 0; b < c->bands; b++)
		if (raster_nearest(&c->band[b].raster, m->landing.landed) >= 0)
			return &c->band[b];
	return NULL;
}

/* The frequency as it was heard: what is known of it is told by that. */
static struct freq true_of(const struct census *c, const struct memory *m)
{
	return m->channel >= 0 ? c->channel[m->channel].centre : m->frequency;
}

void typed_who(struct plan *p, const struct census *c, const struct suspect *s,
	       const struct interests *i)
{
	for (int n = 0; n < p->memories; n++) {
		struct memory *m = &p->memory[n];
		const struct band *band = band_of(c, m);
		const struct known *known = interests_known(i, true_of(c, m));
		const char *service = known && known->service[0] ? known->service
				      : band			 ? band->service
								 : "";
		const struct interest *of = interests_of(i, service);
		struct guess g[GUESSES];
		snprintf(m->service, sizeof m->service, "%s", service);
		m->weight = of->weight;
		if (m->name[0] == '\0' && known)
			snprintf(m->name, sizeof m->name, "%s", known->name);
		if (m->name[0] || m->channel < 0 || suspicion_false(s[m->channel].is))
			continue;
		struct clues k = guess_clues(c, m->channel, of);
		if (guess_who(&k, g) > 0)
			snprintf(m->name, sizeof m->name, "probably %s", g[0].who);
	}
}
