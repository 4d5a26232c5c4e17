#include "tools/plan/hold.h"

#include <math.h>

#define WATCHED_US 300000       /* no look of a sweep is so long */

/* How much longer exchanges are than their overs, as far as one can guess. */
static double longer(const struct guessed *g)
{
	if (g->over_s.value <= 0)
		return 1 + HOLD_DELAY_S / EXCHANGE_S;
	double overs = 1 / fmax(1 - g->more, 0.05), on_s = overs * g->over_s.value;

	return (on_s + (overs - 1) * fmin(g->gap_s.value, EXCHANGE_S) + HOLD_DELAY_S) / on_s;
}

/* One that was watched was looked at all the time. */
static double looks_for(const struct over *o, double revisit_s)
{
	int64_t span_us = o->last_us - o->first_us;

	return o->busy_us > WATCHED_US && 2 * o->busy_us > span_us ?
		       1e-6 * (double)span_us / revisit_s :
		       (double)o->looks;
}

double hold_of(const struct census *c, const struct channel *ch)
{
	const struct looked *l = &c->looked[ch->band];
	int64_t hour = INT64_MIN;
	double looks = 0, most = 0, all = 0;
	int hours = 0;

	if (l->beat.rest_s <= 0 || l->revisit_s < HOLD_SPARSE * l->beat.every_s)
		return ch->hold_share;
	for (int i = 0; i < ch->overs; i++) {
		const struct over *o = &c->over[ch->over + i];
		if (o->first_us / HOUR_US != hour) {
			hour = o->first_us / HOUR_US;
			looks = 0;
			hours++;
		}
		double n = looks_for(o, l->revisit_s);
		looks += n;
		all += n;
		most = fmax(most, looks);
	}
	if (all <= 0)
		return ch->hold_share;
	most = (most + HOLD_EXPECTED) / (1 + HOLD_EXPECTED * hours / all);
	return fmax(ch->hold_share,
		    fmin(1, most * l->revisit_s * longer(&ch->traffic.guessed) / 3600));
}
