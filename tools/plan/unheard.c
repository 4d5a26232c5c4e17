#include "tools/plan/judge.h"

#include "tools/plan/delay.h"

#include <inttypes.h>
#include <stdio.h>

/* Memories of which the survey heard nothing. */

static const struct band *band_at(const struct census *c, struct freq f)
{
	for (int b = 0; b < c->bands; b++)
		if (raster_nearest(&c->band[b].raster, f) >= 0)
			return &c->band[b];
	return NULL;
}

/* What the survey knows of a place where nothing was heard. */
static void tell_silence(const struct matter *m, const struct memory *was, struct memory *out)
{
	static const char *const why[] = {
		[FORMER_UNLOOKED] = "kept: the survey did not look there",
		[FORMER_PARTLY] =
			"kept: not looked at in all hours of the day, so silence says little",
		[FORMER_LOOKED] = "kept",
	};
	int64_t looks = typed_looks(was, m->census, m->receiver);

	snprintf(out->reason, sizeof out->reason, "%s", was->fixed ? "slot pinned by you" :
		 why[former_looked(m->former, was)]);
	if (looks > 0)
		snprintf(out->evidence, sizeof out->evidence,
			 "nothing heard here in %" PRId64 " looks", looks);
	else
		snprintf(out->evidence, sizeof out->evidence, "not looked at in this survey");
}

int judge_silent(const struct matter *m, const struct memory *was, struct memory *out)
{
	const struct freq f = was->frequency;
	struct freq low = { f.thirds - FREQ_KHZ(15).thirds },
		    high = { f.thirds + FREQ_KHZ(15).thirds };
	const struct band *band = band_at(m->census, f);
	const struct interest *i = interests_of(m->interests, band ? band->service : "");
	if (landing_forbidden(low, high) || (!was->fixed && interests_never(m->interests, f)))
		return -1;
	*out = (struct memory){
		.channel = -1, .weight = i->weight, .certainty = CERTAIN_WEAK, .kept = !was->fixed,
		.rank = interests_rank(m->interests, i),
	};
	snprintf(out->family, sizeof out->family, "%s", i->family);
	snprintf(out->service, sizeof out->service, "%s", i->service[0] ? i->service : "other");
	snprintf(out->name, sizeof out->name, "%s", band ? i->title : "not said");
	former_hold(was, m->receiver, m->census, out);
	tell_silence(m, was, out);
	if (!was->fixed && was->noted == NOTED_NOISE) {
		out->locked = true;
		snprintf(out->reason, sizeof out->reason,
			 "kept, but locked: you heard only noise here");
	}
	return 0;
}

int judge_unheard(const struct matter *m, struct freq f, struct memory *out)
{
	const struct known *k = interests_known(m->interests, f);
	const struct band *band = band_at(m->census, f);
	const struct interest *i = interests_of(m->interests, k && k->service[0] ? k->service :
						band ? band->service : "");
	*out = (struct memory){
		.channel = -1, .frequency = f, .mode = band && band->mode ? band->mode : MODE_NFM,
		.weight = i->weight, .certainty = CERTAIN_WEAK, .pinned = true,
		.rank = interests_rank(m->interests, i),
		.delay_us = receiver_delay(m->receiver, DELAY_USUAL_S),
	};
	struct freq low = { f.thirds - FREQ_KHZ(15).thirds },
		    high = { f.thirds + FREQ_KHZ(15).thirds };
	const char *why;
	if (landing_forbidden(low, high) ||
	    landing_find(m->receiver, f, out->mode, band ? &band->raster : NULL,
			 &out->landing) < 0 ||
	    !landing_fits(m->receiver, out->mode, 11000, out->landing.error, &why))
		return -1;
	snprintf(out->family, sizeof out->family, "%s", i->family);
	snprintf(out->service, sizeof out->service, "%s", i->service[0] ? i->service : "other");
	snprintf(out->name, sizeof out->name, "%s", k && k->name[0] ? k->name : i->title);
	snprintf(out->reason, sizeof out->reason, "pinned by you");
	snprintf(out->evidence, sizeof out->evidence, "not heard in this survey");
	return 0;
}
