#include "tools/plan/draw.h"

#include <math.h>
#include <stdlib.h>

#include "dsp/dice.h"
#include "tools/plan/suspect.h"

/* Lengths of overs are log-normal, their standard deviation 0.7 of the mean (common practice;
 * what a survey tells of single channels is too little to fit more than the mean). */
#define LENGTH_SPREAD 0.7

#define PAUSE_S 2.0             /* between overs of an exchange, where not known  */
#define SHARP_S 0.3             /* ends known so well are taken as they are       */
#define TRIES   64

/* One channel whose overs are being made up. */
struct draft {
	const struct census  *c;
	const struct channel *ch;
	struct dice           dice;
	struct script        *to;
	int64_t               from_us, to_us;   /* what is drawn of the survey        */
	int                   room;
	int                   line;
	double                mu, sigma;        /* of the logarithm of a length       */
	double                pause_s;
	double                until_s;          /* end of its last cue                */
	double                air_s;            /* on the air so far                  */
};

static void log_normal(double mean, double *mu, double *sigma)
{
	*sigma = sqrt(log1p(LENGTH_SPREAD * LENGTH_SPREAD));
	*mu = log(mean) - *sigma * *sigma / 2;
}

double script_seen(double over_s, double look_s, double revisit_s)
{
	double mu, sigma, seen = 0, all = 0;

	if (revisit_s <= look_s || over_s <= 0)
		return 1;
	log_normal(over_s, &mu, &sigma);
	for (int i = -40; i <= 40; i++) {
		double z = i / 10.0, weight = exp(-z * z / 2);
		all += weight;
		seen += weight * fmin(1, (exp(mu + sigma * z) + look_s) / revisit_s);
	}
	return seen / all;
}

static int add(struct draft *d, double on_s, double off_s, bool reply)
{
	struct script *s = d->to;

	on_s = fmax(on_s, d->until_s);
	off_s = fmin(off_s, s->seconds);
	if (off_s <= on_s)
		return 0;
	if (s->cues == d->room) {
		int room = d->room ? 2 * d->room : 1024;
		struct cue *more = reallocarray(s->cue, (size_t)room, sizeof *more);
		if (!more)
			return -1;
		s->cue = more;
		d->room = room;
	}
	s->cue[s->cues++] = (struct cue){ on_s, off_s, d->line, reply };
	d->until_s = off_s;
	return 0;
}

static double seconds(const struct draft *d, int64_t us)
{
	return 1e-6 * (double)(us - d->from_us);
}

static double length(struct draft *d)
{
	return exp(d->mu + d->sigma * dice_normal(&d->dice));
}

/* A length of at least so much. */
static double length_over(struct draft *d, double least)
{
	double s = length(d);

	for (int i = 0; i < TRIES && s < least; i++)
		s = length(d);
	return fmax(s, least);
}

/* When the over that began at `on` and was seen at `look` ended. Where that is before `last`, a
 * pause must have passed before the next look, every step_s: *pause_s. A length after which
 * the pause would have been seen is none. */
static double ended(struct draft *d, double on, double look, double last, double step_s, double *pause_s)
{
	for (int i = 0; i < TRIES; i++) {
		double off = on + length_over(d, look - on);
		if (off >= last)
			return off;
		*pause_s = dice_exponential(&d->dice, d->pause_s);
		if (off + *pause_s < look + step_s * ceil((off - look) / step_s))
			return off;
	}
	return last;
}

/* Overs that a run of busy looks may have been. The first began between the idle look before
 * and the first busy one: of lengths alike likely, one is met the more often the longer it is. */
static int fill(struct draft *d, const struct over *o, bool reply)
{
	double look = seconds(d, o->first_us), last = seconds(d, o->last_us);
	double step_s = 1e-6 * (double)o->before_us, end = last + 1e-6 * (double)o->after_us, s = length(d);
	double pause_s = 0;

	for (int i = 0; i < TRIES && dice_unit(&d->dice) * step_s > fmin(step_s, s); i++)
		s = length(d);
	for (double on = look - fmin(step_s, s) * dice_unit(&d->dice);; reply = true) {
		double off = ended(d, on, look, last, step_s, &pause_s);
		if (add(d, on, fmin(off, end), reply) < 0)
			return -1;
		if (off >= last)
			return 0;
		look += step_s * ceil((off - look) / step_s);
		on = off + pause_s;
	}
}

/* All that was seen. */
static int seen_overs(struct draft *d)
{
	const struct over *o = &d->c->over[d->ch->over];

	for (int i = 0; i < d->ch->overs; i++) {
		if (o[i].last_us < d->from_us || o[i].first_us > d->to_us)
			continue;
		double sharp = 1e-6 * (double)(o[i].before_us + o[i].after_us);
		bool reply = i > 0 && 1e-6 * (double)(o[i].first_us - o[i - 1].last_us) < EXCHANGE_S;
		d->air_s += 1e-6 * (double)(o[i].last_us - o[i].first_us) + sharp / 2;
		int failed = sharp > SHARP_S && o[i].before_us > 0 ? fill(d, &o[i], reply) :
			add(d, seconds(d, o[i].first_us) - sharp / 4, seconds(d, o[i].last_us) + sharp / 4, reply);
		if (failed < 0)
			return -1;
	}
	return 0;
}

/* When the clock hour that holds t began: one that was looked at, for something was seen in it. */
static double hour_of(const struct draft *d, double t)
{
	int64_t us = d->c->start_us + (int64_t)(t * 1e6);

	return seconds(d, us - us % HOUR_US);
}

/* Looks meet time on the air in proportion, whatever it is made of. What is short of that is
 * made up: replies after overs that were seen, and exchanges of their own, alone of which the
 * share is met by no look. */
static int unseen_overs(struct draft *d, int from, double alone)
{
	struct script *s = d->to;
	int drawn = s->cues - from;
	double air_s = d->air_s;

	for (int i = from; i < s->cues; i++)
		air_s -= s->cue[i].off_s - s->cue[i].on_s;
	while (drawn > 0 && air_s > 0 && dice_unit(&d->dice) * exp(d->mu) < air_s) {
		const struct cue like = s->cue[from + (int)(dice_unit(&d->dice) * 0.999999 * drawn)];
		bool reply = dice_unit(&d->dice) > alone;
		double length_s = length(d);
		double on = reply ? like.off_s + dice_exponential(&d->dice, d->pause_s)
				  : hour_of(d, like.on_s) + 3600 * dice_unit(&d->dice);
		d->until_s = 0;
		air_s -= length_s;
		if (on >= 0 && add(d, on, on + length_s, reply) < 0)
			return -1;
	}
	return 0;
}

static int by_on(const void *a, const void *b)
{
	const struct cue *x = a, *y = b;

	if (x->on_s != y->on_s)
		return x->on_s < y->on_s ? -1 : 1;
	return x->line - y->line;
}

/* What overlaps on the line since cue `from` becomes one. */
static void join(struct script *s, int from)
{
	int n = from;

	if (s->cues > from)
		qsort(&s->cue[from], (size_t)(s->cues - from), sizeof *s->cue, by_on);
	for (int i = from; i < s->cues; i++) {
		struct cue *last = n > from ? &s->cue[n - 1] : NULL;
		if (last && s->cue[i].on_s <= last->off_s)
			last->off_s = fmax(last->off_s, s->cue[i].off_s);
		else
			s->cue[n++] = s->cue[i];
	}
	s->cues = n;
}

static int draft_channel(struct draft *d)
{
	const struct looked *l = &d->c->looked[d->ch->band];
	double over_s = d->ch->over_s > 0 ? d->ch->over_s : 1;
	double look_s = l->looks > 0 ? 1e-6 * (double)l->looked_us / (double)l->looks : 0;
	double seen = script_seen(over_s, look_s, l->revisit_s);
	double overs = d->ch->exchanges > 0 ? (double)d->ch->overs / d->ch->exchanges / seen : 1;
	int from = d->to->cues;

	log_normal(over_s, &d->mu, &d->sigma);
	d->pause_s = PAUSE_S;
	d->air_s = 0;
	if (seen_overs(d) < 0 || unseen_overs(d, from, pow(1 - seen, fmax(1, overs) - 1)) < 0)
		return -1;
	join(d->to, from);
	return 0;
}

int script_draw(const struct census *c, uint64_t seed, struct script *out)
{
	return script_draw_part(c, c->start_us, c->end_us, seed, out);
}

int script_draw_part(const struct census *c, int64_t from_us, int64_t to_us, uint64_t seed,
		     struct script *out)
{
	struct draft d = { .c = c, .to = out, .from_us = from_us, .to_us = to_us };

	*out = (struct script){ .lines = c->channels, .seconds = 1e-6 * (double)(to_us - from_us) };
	for (int i = 0; i < c->channels; i++) {
		d.ch = &c->channel[i];
		d.line = i;
		d.until_s = 0;
		/* By who it is, not by its place: one channel more leaves the others' nights alone. */
		d.dice = dice_of(seed, (uint64_t)d.ch->band << 32 | (uint32_t)d.ch->channel);
		if ((d.ch->occupancy > CONTINUOUS_SHARE ? add(&d, 0, out->seconds, false) : draft_channel(&d)) < 0)
			goto fail;
	}
	if (out->cues)
		qsort(out->cue, (size_t)out->cues, sizeof *out->cue, by_on);
	return 0;
fail:
	script_free(out);
	return -1;
}

void script_free(struct script *s)
{
	free(s->cue);
	*s = (struct script){ 0 };
}
