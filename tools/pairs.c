#include "tools/judge.h"

#include <math.h>
#include <stdlib.h>

/* From output to input, either way (common practice; 4.6 MHz: ship and coast). */
static const int32_t splits_hz[] = { 600000, 1600000, 5000000 };

/* Of the input's overs, that meet one of the output's. */
#define KEYED_WITH 0.9
#define OVERS_ENOUGH 3

static bool met(const struct census *c, const struct channel *out, const struct over *o)
{
	for (int i = 0; i < out->overs; i++) {
		const struct over *x = &c->over[out->over + i];
		if (x->first_us - x->before_us > o->last_us + o->after_us)
			return false;
		if (x->last_us + x->after_us >= o->first_us - o->before_us)
			return true;
	}
	return false;
}

static bool keyed_with(const struct census *c, const struct channel *in, const struct channel *out)
{
	int n = 0;

	if (in->overs < OVERS_ENOUGH || out->overs < in->overs || out->occupancy > 0.5)
		return false;
	for (int i = 0; i < in->overs; i++)
		n += met(c, out, &c->over[in->over + i]);
	return n >= KEYED_WITH * in->overs;
}

int judge_output(const struct census *c, int input)
{
	const struct channel *in = &c->channel[input];

	for (int i = 0; i < c->channels; i++) {
		const struct channel *out = &c->channel[i];
		int64_t apart = llabs(out->centre.thirds - in->centre.thirds);
		for (size_t s = 0; s < sizeof splits_hz / sizeof splits_hz[0]; s++)
			/* The output is the steadier and the stronger of the two. */
			if (apart == FREQ_HZ(splits_hz[s]).thirds &&
			    out->level_db > in->level_db && out->spread_db <= in->spread_db + 1 &&
			    keyed_with(c, in, out))
				return i;
	}
	return -1;
}
