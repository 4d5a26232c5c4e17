#include "tools/suspect.h"

#include "tools/mixing.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const struct {
	const char *name;
	bool        is_false;
} suspicions[SUSPECT_COUNT] = {
	[SUSPECT_NONE]       = { NULL, false },
	[SUSPECT_ARTEFACT]   = { "artefact", true },
	[SUSPECT_BIRDIE]     = { "birdie", true },
	[SUSPECT_GHOST]      = { "ghost", true },
	[SUSPECT_SPLATTER]   = { "splatter", true },
	[SUSPECT_WANDERER]   = { "wanderer", true },
	[SUSPECT_CONTINUOUS] = { "continuous", false },
	[SUSPECT_STUCK]      = { "stuck", false },
};

const char *suspicion_name(enum suspicion is)
{
	return suspicions[is].name;
}

bool suspicion_false(enum suspicion is)
{
	return suspicions[is].is_false;
}

static bool artefact(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];

	(void)c;
	if (ch->artefacts == 0)
		return false;
	snprintf(out->why, sizeof out->why, "of our own making, seen while surveying: %s%s%s", ch->cause,
		 ch->account[0] ? ", " : "", ch->account);
	return true;
}

static bool birdie(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];
	double n = round(channel_hz(ch) / CLOCK_HZ), off = channel_hz(ch) - n * CLOCK_HZ;

	(void)c;
	if (n < 1 || fabs(off) > 10e3 || ch->occupancy <= CONTINUOUS_SHARE ||
	    (ch->kind != KIND_CARRIER && !(ch->width_hz > 0 && ch->width_hz < 1000)))
		return false;
	snprintf(out->why, sizeof out->why,
		 "%.0f times the dongle's clock of 28.8 MHz, %+.1f kHz beside it, on %.0f %% of the time", n,
		 off / 1e3, 100 * ch->occupancy);
	return true;
}

static bool wanderer(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];
	double step = freq_to_hz(c->band[ch->band].raster.step);
	bool speaks = ch->kind == KIND_NFM || ch->kind == KIND_AM || ch->kind == KIND_WFM ||
		      ch->kind == KIND_DATA;

	if (ch->overs < 5 || speaks || ch->width_hz >= 3000 || ch->offset_spread_hz < step / 2)
		return false;
	snprintf(out->why, sizeof out->why,
		 "wanders over %.1f kHz and keeps to no channel, as switching supplies do",
		 ch->offset_spread_hz / 1e3);
	return true;
}

static bool continuous(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];

	(void)c;
	if (ch->occupancy <= CONTINUOUS_SHARE)
		return false;
	snprintf(out->why, sizeof out->why, "on %.0f %% of the time: a scan would stop here for good",
		 100 * ch->occupancy);
	return true;
}

static bool stuck(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];

	(void)c;
	if (ch->overs < 3 || ch->longest_s <= 200 || ch->longest_s <= 5 * ch->over_s)
		return false;
	snprintf(out->why, sizeof out->why, "one over lasted %.0f min: somebody sat on the microphone",
		 ch->longest_s / 60);
	return true;
}

/* The first that holds, in this order. */
static const struct {
	enum suspicion is;
	bool (*holds)(const struct census *c, int i, struct suspect *out);
} rules[] = {
	{ SUSPECT_ARTEFACT, artefact },
	{ SUSPECT_BIRDIE, birdie },
	{ SUSPECT_GHOST, mixing_ghost },
	{ SUSPECT_SPLATTER, mixing_splatter },
	{ SUSPECT_WANDERER, wanderer },
	{ SUSPECT_CONTINUOUS, continuous },
	{ SUSPECT_STUCK, stuck },
};

struct suspect *suspect_all(const struct census *c)
{
	struct suspect *all = calloc((size_t)c->channels + 1, sizeof *all);
	if (!all)
		return NULL;
	for (int i = 0; i < c->channels; i++) {
		all[i].parent[0] = all[i].parent[1] = all[i].parent[2] = -1;
		for (size_t r = 0; r < sizeof rules / sizeof rules[0] && !all[i].is; r++)
			if (rules[r].holds(c, i, &all[i]))
				all[i].is = rules[r].is;
	}
	return all;
}
