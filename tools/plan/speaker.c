#include "tools/plan/speaker.h"

#include <math.h>
#include <stdbool.h>

/* Lengths of overs are log-normal, their standard deviation 0.7 of the mean (common practice;
 * what a survey tells of single channels is too little to fit more than the mean). */
#define LENGTH_SPREAD 0.7

/* What is usual, where a channel tells nothing (common practice): over, pause, chance of a
 * reply; and by what factor either may be off. */
#define USUAL_OVER_S  5.0
#define USUAL_PAUSE_S 2.0
#define USUAL_MORE    0.7
#define USUAL_OFF     1.5

#define PAUSE_MOST_S  4.0       /* longer ones would end most exchanges           */
#define CLOSE_S       0.2       /* looks closer than so leave no room             */
#define TRIES         24

/* What a draw takes a mean to be: anything that its interval holds. */
static double within(struct speaker *s, const struct estimate *e, double usual)
{
	double value = e->value > 0 ? e->value : usual;
	double sigma = e->value > 0 ? log(e->likely.high / e->likely.low) / 3.92 : log(USUAL_OFF);

	return value * exp(sigma * fmax(-2, fmin(2, dice_normal(&s->dice))));
}

void speaker_take_up(struct speaker *s, const struct guessed *g, const struct beat *beat)
{
	s->beat = *beat;
	s->beat.every_s = fmax(beat->every_s, CLOSE_S);
	s->over_s = within(s, &g->over_s, USUAL_OVER_S);
	s->pause_s =
		fmin(fmax(within(s, &g->gap_s, USUAL_PAUSE_S) - TRAFFIC_HANG_S, 0.2), PAUSE_MOST_S);
	s->more = fmin(g->over_s.value > 0 ? g->more : USUAL_MORE, 1 - 1.0 / EXCHANGE_MOST);
	s->sigma = sqrt(log1p(LENGTH_SPREAD * LENGTH_SPREAD));
	s->mu = log(s->over_s) - s->sigma * s->sigma / 2;
}

double speaker_length(struct speaker *s)
{
	return exp(s->mu + s->sigma * dice_normal(&s->dice));
}

double speaker_pause(struct speaker *s)
{
	return TRAFFIC_HANG_S + dice_exponential(&s->dice, s->pause_s);
}

/* Of lengths alike likely, one is met the more often the longer it is, up to the hole. */
double speaker_age(struct speaker *s, double hole_s)
{
	bool wide = hole_s >
		    s->over_s; /* then lengths are drawn by their length: that is mu + sigma^2 */
	double length_s = speaker_length(s);

	for (int i = 0; i < TRIES; i++) {
		if (wide)
			length_s *= exp(s->sigma * s->sigma);
		if (dice_unit(&s->dice) * (wide ? length_s : hole_s) <= fmin(hole_s, length_s))
			break;
		length_s = speaker_length(s);
	}
	return fmin(hole_s, length_s) * dice_unit(&s->dice);
}

/* ---- looks that met nothing ---- */

/* From one look to the next, or over the rest that follows it. */
static double step(struct speaker *s)
{
	if (s->beat.rest_s > 0 && dice_unit(&s->dice) * s->beat.looks <= 1)
		return s->beat.rest_s;
	return s->beat.every_s;
}

/* The first look after any time. */
static double first_look(struct speaker *s)
{
	double spell_s = (s->beat.looks - 1) * s->beat.every_s;
	bool resting = s->beat.rest_s > 0 &&
		       dice_unit(&s->dice) * (spell_s + s->beat.rest_s) <= s->beat.rest_s;

	return dice_unit(&s->dice) * (resting ? s->beat.rest_s : s->beat.every_s);
}

int speaker_replies(struct speaker *s, double off, double look, double until, struct cue *cue)
{
	double more = until - off < EXCHANGE_S ? 1 : s->more;

	for (int n = 0;; n++) {
		double on = off + speaker_pause(s);
		if (n == EXCHANGE_MOST || on >= until || dice_unit(&s->dice) > more)
			return n;
		off = on + speaker_length(s);
		while (look < on)
			look += step(s);
		if (off > look || off + TRAFFIC_HANG_S > until)
			return -1;
		cue[n] = (struct cue){ .on_s = on, .off_s = off };
	}
}

int speaker_unseen(struct speaker *s, struct cue *cue, int *tries)
{
	for (*tries = 1; *tries <= TRIES; (*tries)++) {
		double look = first_look(s);
		cue[0] = (struct cue){ .off_s = speaker_length(s) };
		int n = cue[0].off_s < look ?
				speaker_replies(s, cue[0].off_s, look, INFINITY, &cue[1]) :
				-1;
		if (n >= 0)
			return 1 + n;
	}
	return 0;
}
