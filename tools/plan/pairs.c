#include "tools/plan/judge.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* From one frequency of a pair to the other, either way (common practice; rows of
 * marine duplex: ITU Radio Regulations appendix 18, from memory). */
static const struct {
	int32_t     apart_hz;
	const char *low, *high;         /* what the lower and the upper side are called */
} splits[] = {
	{   600000, "one", "one" },     /* amateur 2 m                                  */
	{  1600000, "one", "one" },     /* amateur 1.25 m and 70 cm                     */
	{  4600000, "ship", "shore" },  /* marine duplex                                */
	{  5000000, "one", "one" },     /* amateur 70 cm, land mobile 450-470           */
	{  7600000, "one", "one" },     /* amateur 70 cm in Europe                      */
	{  9400000, "one", "one" },     /* the same                                     */
	{ 45000000, "one", "one" },     /* land mobile 800                              */
};

#define SPLITS ((int)(sizeof splits / sizeof splits[0]))

/* Of the input's overs, that meet one of the output's. */
#define KEYED_WITH 0.9
#define OVERS_ENOUGH 3

/* Sides that take turns: most overs of the lesser come soon before or after one
 * of the other, far more than chance would have it, and hardly one during it. */
#define TURN_US    INT64_C(15000000)
#define TURNS      0.5
#define TURNS_LUCK 3.0
#define TOGETHER   0.2
#define TOGETHER_US INT64_C(500000)

/* The split between them, or -1. */
static int split_of(const struct channel *a, const struct channel *b)
{
	int64_t apart = llabs(a->centre.thirds - b->centre.thirds);

	for (int s = 0; s < SPLITS; s++)
		if (apart == FREQ_HZ(splits[s].apart_hz).thirds)
			return s;
	return -1;
}

/* An over of ch that was, or may have been within near_us of o. */
static bool met(const struct census *c, const struct channel *ch, const struct over *o,
		int64_t near_us)
{
	for (int i = 0; i < ch->overs; i++) {
		const struct over *x = &c->over[ch->over + i];
		if (x->first_us - x->before_us > o->last_us + o->after_us + near_us)
			return false;
		if (x->last_us + x->after_us >= o->first_us - o->before_us - near_us)
			return true;
	}
	return false;
}

static bool keyed_with(const struct census *c, const struct channel *in, const struct channel *out)
{
	int n = 0;

	/* Not by overs: a repeater's hang joins several talkers into one. */
	if (in->overs < OVERS_ENOUGH || out->busy_us < in->busy_us || out->occupancy > 0.5)
		return false;
	for (int i = 0; i < in->overs; i++)
		n += met(c, out, &c->over[in->over + i], 0);
	return n >= KEYED_WITH * in->overs;
}

/* Half of what is not known of an edge, and no more than lies between the looks
 * at two frequencies of a split in one sweep. */
static int64_t blur(int64_t unknown_us)
{
	return unknown_us / 2 < TOGETHER_US ? unknown_us / 2 : TOGETHER_US;
}

/* Both seen on at once, or in one sweep. */
static bool together(const struct census *c, const struct channel *ch, const struct over *o)
{
	int64_t from = o->first_us - blur(o->before_us), to = o->last_us + blur(o->after_us);

	for (int i = 0; i < ch->overs; i++) {
		const struct over *x = &c->over[ch->over + i];
		if (x->first_us - blur(x->before_us) <= to &&
		    x->last_us + blur(x->after_us) >= from)
			return true;
	}
	return false;
}

/* Share of the night from which an over would count as near one of ch's. */
static double luck(const struct census *c, const struct channel *ch)
{
	double near = 0;

	for (int i = 0; i < ch->overs; i++) {
		const struct over *x = &c->over[ch->over + i];
		near += (double)(x->last_us + x->after_us - x->first_us + x->before_us +
				 2 * TURN_US);
	}
	return c->wall_us > 0 ? near / (double)c->wall_us : 1;
}

static bool take_turns(const struct census *c, const struct channel *a, const struct channel *b)
{
	const struct channel *lesser = a->overs <= b->overs ? a : b, *other = lesser == a ? b : a;
	int near = 0, at_once = 0;

	if (lesser->overs < OVERS_ENOUGH || other->occupancy > 0.5)
		return false;
	for (int i = 0; i < lesser->overs; i++) {
		const struct over *o = &c->over[lesser->over + i];
		near += met(c, other, o, TURN_US);
		at_once += together(c, other, o);
	}
	return near >= TURNS * lesser->overs && at_once <= TOGETHER * lesser->overs &&
	       near >= TURNS_LUCK * luck(c, other) * lesser->overs;
}

/* The output is the steadier and the stronger of the two. */
static bool is_input(const struct census *c, const struct channel *in, const struct channel *out)
{
	return out->level_db > in->level_db && out->spread_db <= in->spread_db + 1 &&
	       keyed_with(c, in, out) && !take_turns(c, in, out);
}

static int output_of(const struct census *c, int input)
{
	const struct channel *in = &c->channel[input];

	for (int i = 0; i < c->channels; i++)
		if (split_of(in, &c->channel[i]) >= 0 && is_input(c, in, &c->channel[i]))
			return i;
	return -1;
}

struct pair judge_pair(const struct census *c, int channel)
{
	const struct channel *ch = &c->channel[channel];
	struct pair p = { PAIR_NONE, output_of(c, channel), NULL };

	if (p.other >= 0) {
		p.is = PAIR_INPUT;
		return p;
	}
	for (int i = 0; i < c->channels && !p.is; i++) {
		const struct channel *other = &c->channel[i];
		int s = split_of(ch, other);
		if (s < 0)
			continue;
		if (is_input(c, other, ch) && output_of(c, i) == channel)
			p.is = PAIR_OUTPUT;
		else if (take_turns(c, ch, other))
			p.is = PAIR_SIDE;
		p.other = p.is ? i : -1;
		p.side = ch->centre.thirds < other->centre.thirds ? splits[s].low : splits[s].high;
	}
	return p;
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
