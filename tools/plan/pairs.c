#include "tools/plan/pairs.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "tools/plan/coincide.h"
#include "tools/plan/judge.h"
#include "tools/plan/list.h"

/* Where a repeater's input lies, from its output. */
enum where { EITHER = 0, BELOW, ABOVE };

/* A distance at which a channel may have a partner. Both frequencies lie in the stretch. */
struct split {
	int32_t     apart_hz;
	bool planned; /* the band plan names it: asked beforehand, not searched for */
	int32_t     low_khz, high_khz;
	enum where  input;
	const char *low, *high;         /* what the lower and the upper side are called */
	const char *name;
};

/* Usual splits, common practice but for the marine one: ITU Radio Regulations appendix 18, from
 * memory. The first row that fits counts, where the band plan tells none that does. */
static const struct split usual[] = {
	{   600000, false, 144000, 148000, EITHER, "one", "one", "amateur 2 m" },
	{  1600000, false, 222000, 225000, BELOW, "one", "one", "amateur 1.25 m" },
	{  1600000, false, 430000, 440000, EITHER, "one", "one", "amateur 70 cm" },
	{  4600000, false, 156000, 162050, EITHER, "ship", "shore", "marine duplex" },
	{  4600000, false, 138000, 174000, EITHER, "one", "one", "land mobile VHF" },
	{  5000000, false, 440000, 450000, EITHER, "one", "one", "amateur 70 cm" },
	{  5000000, false, 450000, 470000, ABOVE, "one", "one", "land mobile UHF" },
	{  7600000, false, 430000, 440000, EITHER, "one", "one", "amateur 70 cm" },
	{  9400000, false, 430000, 440000, EITHER, "one", "one", "amateur 70 cm" },
	{ 10000000, false, 380000, 470000, BELOW, "one", "one", "land mobile UHF" },
	{  3000000, false, 470000, 512000, ABOVE, "one", "one", "land mobile UHF" },
	{ 45000000, false, 806000, 870000, BELOW, "one", "one", "land mobile 800" },
	{ 39000000, false, 896000, 941000, BELOW, "one", "one", "land mobile 900" },
};

#define USUAL ((int)(sizeof usual / sizeof usual[0]))

#define OVERS_ENOUGH 3
#define WAYS         3          /* each pair is tried one way, the other way, and for turns */
#define KEYED_WITH   0.9        /* of the input's overs meet the output's               */
#define TURNS        0.5        /* of the lesser's overs are near the other's, not at once */
#define TOGETHER     0.2        /* more seen on at once are no turns, and fewer no input */
#define TOO_BUSY     0.5        /* whatever keys up then meets it                       */
#define SURE_CHANCE  1e-5
#define STEADY_DB    2.0        /* one transmitter's levels spread by less (common practice) ... */
#define SCATTERED_DB 6.0        /* ... and mobiles' by more                             */
#define LATER_MOST_S 8.0
#define LATER_SPREAD_S 3.0      /* a hang is constant                                   */
#define LATER_LEAST  5
#define LATER_KNOWN_US 1000000

/* The usual split between the two; apart_hz 0: none. */
static struct split usual_split(struct freq low, struct freq high)
{
	for (int s = 0; s < USUAL; s++)
		if (high.thirds - low.thirds == FREQ_HZ(usual[s].apart_hz).thirds &&
		    low.thirds >= FREQ_KHZ(usual[s].low_khz).thirds &&
		    high.thirds <= FREQ_KHZ(usual[s].high_khz).thirds)
			return usual[s];
	return (struct split){ .input = EITHER, .low = "one", .high = "one" };
}

/* Whether the plan of the output's band has its input there. */
static bool planned(const struct band *of_output, struct freq output, struct freq input)
{
	for (int i = 0; i < BAND_SPLITS && of_output->split[i].thirds; i++)
		if (input.thirds - output.thirds == of_output->split[i].thirds)
			return true;
	return false;
}

/* The split between the two, by the band plan, else the usual one; apart_hz 0: none. */
static struct split split_of(const struct census *c, const struct channel *a,
			     const struct channel *b)
{
	bool up = b->centre.thirds > a->centre.thirds;
	const struct channel *low = up ? a : b, *high = up ? b : a;
	const struct band *lower = &c->band[low->band], *upper = &c->band[high->band];
	bool above = planned(lower, low->centre, high->centre);
	bool below = planned(upper, high->centre, low->centre);
	struct split s = usual_split(low->centre, high->centre);

	if (!above && !below)
		return s;
	s.input = above && below ? EITHER : above ? ABOVE : BELOW;
	s.name = above ? lower->name : upper->name;
	s.planned = true;
	s.apart_hz = (int32_t)((high->centre.thirds - low->centre.thirds) / 3);
	return s;
}

static struct overs overs_of(const struct census *c, const struct channel *ch)
{
	return (struct overs){ &c->over[ch->over], ch->overs };
}

/* Whether it may be the input of the other, but for their timing: that is the steadier, the
 * stronger and the busier, for a repeater's hang joins several talkers into one. */
static bool fits_input(const struct channel *in, const struct channel *out, enum where input)
{
	enum where at = in->centre.thirds < out->centre.thirds ? BELOW : ABOVE;

	return in->overs >= OVERS_ENOUGH && (input == EITHER || input == at) &&
	       out->busy_us >= in->busy_us && out->occupancy <= TOO_BUSY &&
	       out->level_db > in->level_db && out->spread_db <= in->spread_db + 1;
}

static struct pair keyed_with(const struct census *c, int in, int out, double tried)
{
	struct overs a = overs_of(c, &c->channel[in]), b = overs_of(c, &c->channel[out]);
	struct coincidence found;

	if (coincide_kept(a, b, KEEP_TOGETHER) < KEYED_WITH * a.n ||
	    coincide_kept(a, b, KEEP_AT_ONCE) <= TOGETHER * a.n)
		return (struct pair){ .other = -1 };
	coincide(a, b, KEEP_TOGETHER, &found);
	return (struct pair){ PAIR_INPUT, out, .overs = found.overs, .common = found.kept,
			      .expected = found.expected, .chance = fmin(1, found.chance * tried) };
}

static struct pair take_turns(const struct census *c, int lesser, int other, double tried)
{
	struct overs a = overs_of(c, &c->channel[lesser]), b = overs_of(c, &c->channel[other]);
	struct coincidence found;

	if (a.n < OVERS_ENOUGH || c->channel[other].occupancy > TOO_BUSY ||
	    coincide_kept(a, b, KEEP_TURNS) < TURNS * a.n ||
	    coincide_kept(a, b, KEEP_AT_ONCE) > TOGETHER * a.n)
		return (struct pair){ .other = -1 };
	coincide(a, b, KEEP_TURNS, &found);
	return (struct pair){ PAIR_SIDE, other, .overs = found.overs, .common = found.kept,
			      .expected = found.expected, .chance = fmin(1, found.chance * tried) };
}

/* How much later than the input's the output's overs end, when the input's is the last in it
 * and both ends are known well, which sweeps seldom do. Often another talker follows that was
 * not heard, so the middle of them. */
static void hang(const struct census *c, int in, int out, struct pair *p)
{
	struct overs a = overs_of(c, &c->channel[in]), b = overs_of(c, &c->channel[out]);
	double later[256];
	int n = 0;

	for (int i = 0, j = 0; i < a.n && n < 256; i++) {
		const struct over *x = &a.o[i];
		while (j < b.n && b.o[j].last_us + b.o[j].after_us < x->last_us)
			j++;
		if (j == b.n)
			break;
		const struct over *y = &b.o[j];
		bool last = i + 1 == a.n || a.o[i + 1].first_us > y->last_us;
		int64_t later_us = y->last_us + y->after_us / 2 - x->last_us - x->after_us / 2;
		double s = 1e-6 * (double)later_us;
		if (last && y->first_us <= x->last_us && x->after_us >= 0 && y->after_us >= 0 &&
		    x->after_us + y->after_us <= LATER_KNOWN_US && s < LATER_MOST_S)
			later[n++] = s;
	}
	if (n < LATER_LEAST)
		return;
	double middle = list_quantile(later, n, 0.5);
	double spread = (list_quantile(later, n, 0.75) - list_quantile(later, n, 0.25)) / 1.349;
	if (spread > LATER_SPREAD_S || middle <= 0)
		return;
	p->hang_s = middle;
	p->hang_sigma_s = 1.25 * spread / sqrt(n);      /* of a median, normal distribution */
}

static bool same_tone(const struct channel *a, const struct channel *b)
{
	int32_t x = nature_tone_ddhz(&a->nature), y = nature_tone_ddhz(&b->nature);

	return x > 0 && y > 0 && abs(x - y) <= x / 200;
}

/* Both are told; a channel that has a surer one already keeps it. */
static void marry(struct census *c, int one, struct pair p, const struct split *split)
{
	struct channel *a = &c->channel[one], *b = &c->channel[p.other];
	bool lower = a->centre.thirds < b->centre.thirds;

	if ((a->pair.is && a->pair.chance <= p.chance) ||
	    (b->pair.is && b->pair.chance <= p.chance))
		return;
	for (int i = 0; i < c->channels; i++)
		if (c->channel[i].pair.is &&
		    (c->channel[i].pair.other == one || c->channel[i].pair.other == p.other))
			c->channel[i].pair = (struct pair){ .other = -1 };
	p.of = one;
	p.split = split->name;
	p.same_tone = same_tone(a, b);
	p.sure = p.chance < SURE_CHANCE &&
		 (p.same_tone || (b->spread_db < STEADY_DB && a->spread_db > SCATTERED_DB / 2));
	if (p.is == PAIR_INPUT)
		hang(c, one, p.other, &p);
	p.side = lower ? split->low : split->high;
	a->pair = p;
	p.is = p.is == PAIR_INPUT ? PAIR_OUTPUT : p.is;
	p.side = lower ? split->high : split->low;
	p.other = one;
	b->pair = p;
}

/* One that the band plan names was not picked out of many, nor was which side is the input. */
static void try(struct census *c, int i, int j, double of_all)
{
	struct split split = split_of(c, &c->channel[i], &c->channel[j]);
	double tried = split.planned ? 1 : WAYS * of_all;
	double most = split.planned ? PAIRS_FALSE_PLANNED : PAIRS_FALSE;
	bool more = c->channel[i].overs > c->channel[j].overs;
	struct pair best = { .other = -1 }, p;
	int of = -1;

	for (int way = 0; way < 2; way++) {
		int in = way ? j : i, out = way ? i : j;
		if (!fits_input(&c->channel[in], &c->channel[out], split.input))
			continue;
		p = keyed_with(c, in, out, tried);
		if (p.is && p.chance <= most && (!best.is || p.chance < best.chance)) {
			best = p;
			of = in;
		}
	}
	p = take_turns(c, more ? j : i, more ? i : j, tried);
	if (p.is && p.chance <= most && !best.is) {
		best = p;
		of = more ? j : i;
	}
	if (best.is)
		marry(c, of, best, &split);
}

void pairs_find(struct census *c)
{
	double tried = 0;

	for (int i = 0; i < c->channels; i++) {
		c->channel[i].pair = (struct pair){ .other = -1 };
		for (int j = 0; j < i; j++)
			tried += split_of(c, &c->channel[i], &c->channel[j]).apart_hz > 0;
	}
	for (int i = 0; i < c->channels; i++)
		for (int j = 0; j < i; j++)
			if (split_of(c, &c->channel[i], &c->channel[j]).apart_hz > 0)
				try(c, i, j, tried);
}

/* -1: it is not in that census. Channels are by band and number. */
static int channel_at(const struct census *c, const struct channel *like)
{
	int low = 0, high = c->channels;

	while (low < high) {
		int middle = (low + high) / 2;
		const struct channel *ch = &c->channel[middle];
		if (ch->band < like->band ||
		    (ch->band == like->band && ch->channel < like->channel))
			low = middle + 1;
		else
			high = middle;
	}
	return low < c->channels && c->channel[low].band == like->band &&
	       c->channel[low].channel == like->channel ? low : -1;
}

void pairs_adopt(struct census *c, const struct census *lower)
{
	for (int i = 0; i < lower->channels; i++) {
		struct pair p = lower->channel[i].pair;
		if (!p.is || p.other < i)
			continue;
		int one = channel_at(c, &lower->channel[i]),
		    other = channel_at(c, &lower->channel[p.other]);
		if (one < 0 || other < 0 || c->channel[one].pair.is || c->channel[other].pair.is)
			continue;
		int of = p.of == i ? one : other;
		c->channel[one].pair = p;
		c->channel[one].pair.other = other;
		c->channel[other].pair = lower->channel[p.other].pair;
		c->channel[other].pair.other = one;
		c->channel[one].pair.of = c->channel[other].pair.of = of;
	}
}

struct pair judge_pair(const struct census *c, int channel)
{
	return c->channel[channel].pair;
}

void judge_pair_words(const struct census *c, const struct pair *p, char *out, size_t size)
{
	char mhz[FREQ_TEXT];

	out[0] = '\0';
	if (p->is == PAIR_OUTPUT)
		snprintf(out, size, "input %s heard too",
			 freq_format_mhz(mhz, c->channel[p->other].centre));
	else if (p->is == PAIR_SIDE)
		snprintf(out, size, "%s side of %s", p->side,
			 freq_format_mhz(mhz, c->channel[p->other].centre));
}

char *pair_evidence(const struct census *c, int channel, char *out, size_t size)
{
	const struct pair *p = &c->channel[channel].pair;
	char mhz[FREQ_TEXT], of[FREQ_TEXT], later[64] = "";

	out[0] = '\0';
	if (!p->is)
		return out;
	if (p->hang_s > 0)
		snprintf(later, sizeof later, "; the output goes off %.1f s later (%.1f-%.1f)",
			 p->hang_s, fmax(p->hang_s - 1.96 * p->hang_sigma_s, 0),
			 p->hang_s + 1.96 * p->hang_sigma_s);
	freq_format_mhz(of, c->channel[p->of].centre);
	freq_format_mhz(mhz, c->channel[p->of == channel ? p->other : channel].centre);
	snprintf(out, size, "%s: %d of %d overs of %s %s %s, %.1f by chance%s%s; %s", p->split,
		 p->common, p->overs, of, p->is == PAIR_SIDE ? "in turns with" : "while", mhz,
		 p->expected, p->same_tone ? "; same tone" : "", later,
		 p->sure ? "sure" : "likely");
	return out;
}

/* ---- one channel ---- */

#define LEVELS_ENOUGH 10
#define ANSWER_LEAST_S 3.0      /* so much time for an answer that is not heard (common practice) */
#define ANSWER_MOST_S  10.0

enum speakers channel_speakers(const struct channel *ch)
{
	double gap = ch->traffic.gap_s.value;

	if (ch->overs < LEVELS_ENOUGH || ch->traffic.shape == SHAPE_ALWAYS)
		return SPEAKERS_UNKNOWN;
	if (ch->spread_db >= SCATTERED_DB)
		return SPEAKERS_SEVERAL;
	if (ch->spread_db >= STEADY_DB)
		return SPEAKERS_UNKNOWN;
	return !ch->pair.is && ch->traffic.gap_s.likely.low >= ANSWER_LEAST_S &&
			       gap <= ANSWER_MOST_S ?
		       SPEAKERS_HALF :
		       SPEAKERS_ONE;
}

const char *speakers_words(enum speakers s)
{
	static const char *const words[] = {
		"", "one transmitter: a base or a repeater", "several stations, direct",
		"one side only: you do not hear the answers",
	};

	return words[s];
}
