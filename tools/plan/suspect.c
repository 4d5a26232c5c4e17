#include "tools/plan/suspect.h"

#include "tools/plan/mixing.h"

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

#define OFF_DB    6.0           /* as strong as with the antenna off */
#define OFF_SHARE 0.5           /* and as steady */

/* Somebody else on its channel is stronger than it was, or comes and goes. */
static bool antenna_off(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];
	double dbfs = ch->level_db + c->looked[ch->band].floor_dbfs;

	if (ch->off_share == 0 || fabs(dbfs - ch->off_dbfs) > OFF_DB ||
	    ch->occupancy < OFF_SHARE * ch->off_share)
		return false;
	snprintf(out->why, sizeof out->why,
		 "made by the receiver itself: with the antenna off it was there "
		 "too, at %.0f dBFS against %.0f now",
		 ch->off_dbfs, dbfs);
	return true;
}

static bool artefact(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];

	(void)c;
	if (ch->artefacts == 0)
		return false;
	snprintf(out->why, sizeof out->why, "of our own making, seen while surveying: %s%s%s",
		 ch->cause, ch->account[0] ? ", " : "", ch->account);
	return true;
}

static bool birdie(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];
	/* The clock's own error moves its harmonics by what the correction took out. */
	double clock = CLOCK_HZ * (1 + 1e-6 * c->ppm);
	double n = round(channel_hz(ch) / clock), off = channel_hz(ch) - n * clock;
	double plain = channel_hz(ch) - n * CLOCK_HZ;

	if (n < 1 || fmin(fabs(off), fabs(plain)) > 10e3 || ch->occupancy <= CONTINUOUS_SHARE ||
	    (ch->kind != KIND_CARRIER && !(ch->width_hz > 0 && ch->width_hz < 1000)))
		return false;
	snprintf(
		out->why, sizeof out->why,
		"%.0f times the dongle's clock of 28.8 MHz %+.1f ppm, %+.1f kHz beside it, on %.0f %% of the time",
		n, c->ppm, off / 1e3, 100 * ch->occupancy);
	return true;
}

/* Neighbours so near, so alike and together so busy are one steady signal. */
#define TRAIL_HZ       8e3
#define TRAIL_DB       2.0
#define TRAIL_CHANNELS 4
#define TRAIL_SHARE    0.5

static bool alike(const struct channel *a, const struct channel *b)
{
	return a->band == b->band && fabs(channel_hz(a) - channel_hz(b)) <= TRAIL_HZ &&
	       fabs(a->level_db - b->level_db) <= TRAIL_DB && a->overs > 0 && b->overs > 0 &&
	       a->spread_db <= TRAIL_DB && b->spread_db <= TRAIL_DB;
}

/* A drifting line leaves its overs on one channel of a fine raster after another. */
static bool trail(const struct census *c, int i, struct suspect *out)
{
	int first = i, last = i;
	double share = 0;
	char low[FREQ_TEXT], high[FREQ_TEXT];

	while (first > 0 && alike(&c->channel[first], &c->channel[first - 1]))
		first--;
	while (last + 1 < c->channels && alike(&c->channel[last], &c->channel[last + 1]))
		last++;
	for (int k = first; k <= last; k++)
		share += c->channel[k].occupancy;
	if (last - first + 1 < TRAIL_CHANNELS || share < TRAIL_SHARE)
		return false;
	snprintf(
		out->why, sizeof out->why,
		"one steady signal wanders from %s to %s MHz over %d channels, as switching supplies do",
		freq_format_mhz(low, c->channel[first].centre),
		freq_format_mhz(high, c->channel[last].centre), last - first + 1);
	return true;
}

static bool wanderer(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];
	double step = freq_to_hz(c->band[ch->band].raster.step);
	bool speaks = ch->kind == KIND_NFM || ch->kind == KIND_AM || ch->kind == KIND_WFM ||
		      ch->kind == KIND_DATA;

	if (trail(c, i, out))
		return true;
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
	snprintf(out->why, sizeof out->why,
		 "on %.0f %% of the time: a scan would stop here for good", 100 * ch->occupancy);
	return true;
}

static bool stuck(const struct census *c, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];

	(void)c;
	if (ch->overs < 3 || ch->longest_s <= 200 || ch->longest_s <= 5 * ch->over_s)
		return false;
	snprintf(out->why, sizeof out->why,
		 "one over lasted %.0f min: somebody sat on the microphone", ch->longest_s / 60);
	return true;
}

/* The first that holds, in this order. Who was put to the proof and found real is
 * not made in the receiver: but may still be spilt by a neighbour's transmitter. */
static const struct {
	enum suspicion is;
	bool (*holds)(const struct census *c, int i, struct suspect *out);
	bool inside;            /* says that the receiver makes it */
} rules[] = {
	{ SUSPECT_ARTEFACT, artefact, true },
	{ SUSPECT_ARTEFACT, antenna_off, false },
	{ SUSPECT_BIRDIE, birdie, true },
	{ SUSPECT_GHOST, mixing_ghost, true },
	{ SUSPECT_SPLATTER, mixing_splatter, false },
	{ SUSPECT_WANDERER, wanderer, false },
	{ SUSPECT_CONTINUOUS, continuous, false },
	{ SUSPECT_STUCK, stuck, false },
};

#define BESIDE_HZ 15e3          /* as far as a narrow ghost is wide */

/* A ghost is wider than those that make it: on a fine raster a look now and then
 * puts it on the channel beside. */
static bool beside(const struct census *c, const bool *made, int i, struct suspect *out)
{
	const struct channel *ch = &c->channel[i];
	char text[FREQ_TEXT];

	for (int j = 0; j < c->channels; j++) {
		const struct channel *g = &c->channel[j];
		double apart = fabs(channel_hz(g) - channel_hz(ch));
		if (!made[j] || g->band != ch->band || apart > fmin(BESIDE_HZ, g->width_hz) ||
		    ch->overs > g->overs)
			continue;
		snprintf(out->why, sizeof out->why,
			 "%.1f kHz from %s MHz and part of it, which is made in "
			 "the receiver",
			 apart / 1e3, freq_format_mhz(text, g->centre));
		return true;
	}
	return false;
}

static bool judge_beside(const struct census *c, struct suspect *all)
{
	bool *made = calloc((size_t)c->channels + 1, sizeof *made);

	if (!made)
		return false;
	for (int i = 0; i < c->channels; i++)
		made[i] = all[i].is == SUSPECT_GHOST || all[i].is == SUSPECT_ARTEFACT;
	for (int i = 0; i < c->channels; i++)
		if ((all[i].is == SUSPECT_NONE || all[i].is == SUSPECT_STUCK) &&
		    c->channel[i].cleared == 0 && beside(c, made, i, &all[i]))
			all[i].is = SUSPECT_GHOST;
	free(made);
	return true;
}

struct suspect *suspect_all(const struct census *c)
{
	struct suspect *all = calloc((size_t)c->channels + 1, sizeof *all);
	if (!all)
		return NULL;
	for (int i = 0; i < c->channels; i++) {
		all[i].parent[0] = all[i].parent[1] = all[i].parent[2] = -1;
		for (size_t r = 0; r < sizeof rules / sizeof rules[0] && !all[i].is; r++)
			if (!(rules[r].inside && c->channel[i].cleared > 0) &&
			    rules[r].holds(c, i, &all[i]))
				all[i].is = rules[r].is;
	}
	if (judge_beside(c, all))
		return all;
	free(all);
	return NULL;
}
