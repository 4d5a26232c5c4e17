#include "tools/plan/draw.h"

#include <math.h>
#include <stdlib.h>

#include "tools/plan/speaker.h"
#include "tools/plan/suspect.h"

#define SHARP_S 0.3             /* ends known so well are taken as they are       */
#define TRIES   24
#define SHORTER 4               /* times that exchanges are made shorter          */

/* One channel whose overs are being made up. */
struct draft {
	const struct census  *c;
	const struct channel *ch;
	struct speaker        by;
	struct script        *to;
	int64_t               from_us, to_us;   /* what is drawn of the survey        */
	int                   room;
	int                   line;
};

static int add(struct draft *d, double on_s, double off_s)
{
	struct script *s = d->to;

	on_s = fmax(on_s, 0);
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
	s->cue[s->cues++] = (struct cue){ on_s, off_s, d->line, false };
	return 0;
}

static double seconds(const struct draft *d, int64_t us)
{
	return 1e-6 * (double)(us - d->from_us);
}

/* ---- overs that were seen ---- */

/* The rest of an exchange as nobody saw it; moves *off on to its end. way -1: all goes backwards,
 * and -*off is where an over began. */
static int follow(struct draft *d, double *off, double look, double until, int way)
{
	struct cue cue[EXCHANGE_MOST];
	int n = -1;

	for (int tries = 0; tries < TRIES && n < 0; tries++)
		n = speaker_replies(&d->by, *off, look, until, cue);
	for (int i = 0; i < n; i++) {
		if (add(d, way > 0 ? cue[i].on_s : -cue[i].off_s,
			way > 0 ? cue[i].off_s : -cue[i].on_s) < 0)
			return -1;
		*off = cue[i].off_s;
	}
	return 0;
}

/* One over as it was seen. */
struct seen {
	double first_s, last_s;         /* looks that met it                              */
	double before_s, after_s;       /* to looks that may have been before and after it */
	double idle;                    /* the first look after it that met nothing       */
};

static struct seen seen_of(const struct draft *d, const struct over *o, const struct over *next)
{
	double hole_s = d->by.beat.rest_s > 0 ? d->by.beat.rest_s : d->by.beat.every_s;
	struct seen s = {
		.first_s = seconds(d, o->first_us), .last_s = seconds(d, o->last_us),
		.before_s = o->before_us >= 0 ? 1e-6 * (double)o->before_us : hole_s,
		.after_s = 1e-6 * (double)o->after_us,
	};

	s.idle = s.last_s + s.after_s;
	if (o->after_us < 0) {          /* a rest came: how long it went on, nobody saw */
		s.after_s = next ? fmax(0, 1e-6 * (double)(next->first_us - o->last_us)) : INFINITY;
		s.idle = s.last_s + fmin(hole_s, s.after_s);
	}
	return s;
}

/* When the over that began at `on` and was met at `look` ended, the last look that met any being
 * at `last`. Where that is earlier, a reply had begun before the next look, *next, met it, and ended
 * before a look met nothing. */
static double ended(struct draft *d, double on, double look, const struct seen *s, double *next)
{
	double most = s->last_s + s->after_s;

	for (int i = 0; i < TRIES; i++) {
		double off = on + speaker_length(&d->by);
		if (off < look || off > most)
			continue;
		if (off >= s->last_s)
			return off;
		double met = look + d->by.beat.every_s * ceil((off - look) / d->by.beat.every_s);
		*next = off + speaker_pause(&d->by);
		if (dice_unit(&d->by.dice) > d->by.more || *next >= met)
			continue;
		double end = *next + speaker_length(&d->by);
		if (end >= met && end <= most)
			return off;
	}
	return s->last_s + fmin(s->after_s, d->by.over_s) * dice_unit(&d->by.dice);
}

/* Overs that a run of busy looks may have been; *off: when the last one ended. */
static int fill(struct draft *d, const struct seen *s, double on, double *off)
{
	double look = s->first_s, next = on;

	for (;;) {
		*off = ended(d, on, look, s, &next);
		if (add(d, on, *off) < 0)
			return -1;
		if (*off >= s->last_s)
			return 0;
		look += d->by.beat.every_s * fmax(1, ceil((*off - look) / d->by.beat.every_s));
		on = next;
	}
}

/* One that was seen, after one that ended at *off, which it moves on. */
static int seen_over(struct draft *d, const struct seen *s, double on, double *off)
{
	double back = -on;

	/* Replies before it: those after the one before are made up already. */
	if (on - *off >= EXCHANGE_S && follow(d, &back, s->before_s - s->first_s, -*off, -1) < 0)
		return -1;
	if (s->before_s + s->after_s > SHARP_S)
		return fill(d, s, on, off);
	*off = s->last_s + s->after_s / 2;
	return add(d, on, *off);
}

/* All that was seen, and what goes with it. */
static int seen_overs(struct draft *d)
{
	const struct over *o = &d->c->over[d->ch->over];
	double off = -INFINITY, idle = 0;       /* of the one before */
	int end = d->ch->overs;

	while (end > 0 && o[end - 1].first_us > d->to_us)
		end--;
	for (int i = 0; i < end; i++) {
		if (o[i].last_us < d->from_us)
			continue;
		struct seen s = seen_of(d, &o[i], i + 1 < end ? &o[i + 1] : NULL);
		double on = s.first_s - (s.before_s > SHARP_S ? speaker_age(&d->by, s.before_s) :
								s.before_s / 2);
		if ((isfinite(off) && follow(d, &off, idle, on, 1) < 0) ||
		    seen_over(d, &s, on, &off) < 0)
			return -1;
		idle = s.idle;
	}
	return isfinite(off) ? follow(d, &off, idle, INFINITY, 1) : 0;
}

/* ---- exchanges that nobody saw ---- */

/* When the clock hour that holds t began: one that was looked at, for something was seen in it. */
static double hour_of(const struct draft *d, double t)
{
	int64_t us = d->from_us + (int64_t)(t * 1e6);

	return seconds(d, us - us % HOUR_US);
}

/* On the air in what is drawn, as the share of looks that met it has it: whatever it is made of,
 * looks meet it in proportion. Of several nights each has as much of it as was seen in it. */
static double on_air_s(const struct draft *d)
{
	const struct over *o = &d->c->over[d->ch->over];
	double all_s = d->ch->occupancy * 1e-6 *
		       (double)(d->c->wall_us > 0 ? d->c->wall_us : d->to_us - d->from_us);
	int here = 0;

	for (int i = 0; i < d->ch->overs; i++)
		here += o[i].last_us >= d->from_us && o[i].first_us <= d->to_us;
	return d->ch->overs > 0 ? all_s * here / d->ch->overs : 0;
}

/* As many as chance leaves for those seen, by how many of those made up are met; in their hours. */
static int unseen_overs(struct draft *d, int from)
{
	struct script *s = d->to;
	struct cue cue[EXCHANGE_MOST + 1];
	int drawn = s->cues - from, seen = 0, met = 0, n, tries;

	for (int i = from; i < s->cues; i++)
		seen += !s->cue[i].reply;
	while (seen > 0 && (n = speaker_unseen(&d->by, cue, &tries)) > 0) {
		met += tries - 1;
		if (met >= seen)
			break;
		const struct cue like =
			s->cue[from + (int)(dice_unit(&d->by.dice) * 0.999999 * drawn)];
		double at = hour_of(d, like.on_s) + 3600 * dice_unit(&d->by.dice);
		for (int i = 0; i < n; i++)
			if (add(d, at + cue[i].on_s, at + cue[i].off_s) < 0)
				return -1;
	}
	return 0;
}

/* ---- all of it ---- */

static int by_on(const void *a, const void *b)
{
	const struct cue *x = a, *y = b;

	if (x->on_s != y->on_s)
		return x->on_s < y->on_s ? -1 : 1;
	return x->line - y->line;
}

/* What overlaps on the line since cue `from`, or is parted by less than a hang, becomes one;
 * what follows soon is a reply. */
static void join(struct script *s, int from)
{
	int n = from;

	if (s->cues > from)
		qsort(&s->cue[from], (size_t)(s->cues - from), sizeof *s->cue, by_on);
	for (int i = from; i < s->cues; i++) {
		struct cue *last = n > from ? &s->cue[n - 1] : NULL;
		double silent = last ? s->cue[i].on_s - last->off_s : INFINITY;
		if (last && silent < TRAFFIC_HANG_S) {
			last->off_s = fmax(last->off_s, s->cue[i].off_s);
			continue;
		}
		s->cue[n] = s->cue[i];
		s->cue[n++].reply = silent < EXCHANGE_S;
	}
	s->cues = n;
}

static double drawn_s(const struct script *s, int from)
{
	double sum_s = 0;

	for (int i = from; i < s->cues; i++)
		sum_s += s->cue[i].off_s - s->cue[i].on_s;
	return sum_s;
}

static int draft_channel(struct draft *d)
{
	const struct looked *l = &d->c->looked[d->ch->band];
	int from = d->to->cues;
	double air_s = on_air_s(d), got_s;

	const struct beat even = { fmax(l->revisit_s, SHARP_S), 0, 1 };

	speaker_take_up(&d->by, &d->ch->traffic.guessed, l->beat.every_s > 0 ? &l->beat : &even);
	/* More replies than there is time on the air for: exchanges are shorter than was thought. */
	for (int i = 0; i < SHORTER; i++, d->by.more *= air_s / got_s) {
		d->to->cues = from;
		if (seen_overs(d) < 0)
			return -1;
		join(d->to, from);
		got_s = drawn_s(d->to, from);
		if (got_s <= 1.3 * air_s)
			break;
	}
	if (unseen_overs(d, from) < 0)
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
		/* By who it is, not by its place: one channel more leaves the others' nights alone. */
		d.by.dice = dice_of(seed, (uint64_t)d.ch->band << 32 | (uint32_t)d.ch->channel);
		if ((d.ch->occupancy > CONTINUOUS_SHARE ? add(&d, 0, out->seconds) :
							  draft_channel(&d)) < 0)
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
