#ifndef BANDCENSUS_TOOLS_PLAN_SPEAKER_H
#define BANDCENSUS_TOOLS_PLAN_SPEAKER_H

#include "dsp/dice.h"
#include "tools/plan/beat.h"
#include "tools/plan/rehearse.h"
#include "tools/plan/traffic.h"

/* Who talks on a channel, for one draw (draw.h): overs of log-normal length, pauses exponential
 * beyond the hang, a geometric number of overs an exchange; and when they were looked at. */
struct speaker {
	struct dice dice;
	struct beat beat;
	double      mu, sigma;          /* of the logarithm of a length              */
	double      over_s, pause_s;    /* means; pauses are longer by the hang      */
	double      more;               /* chance that a reply follows               */
};

/* Overs of an exchange that is made up, at most; and one that others follow. */
#define EXCHANGE_MOST 64

/* Takes means out of the intervals of what is known, or out of what is usual; dice are there. */
void speaker_take_up(struct speaker *s, const struct guessed *known, const struct beat *beat);

double speaker_length(struct speaker *s);
double speaker_pause(struct speaker *s);

/* How long ago an over began that a look met, the one before having come hole_s earlier. */
double speaker_age(struct speaker *s, double hole_s);

/* Replies after an over that ended at `off` until the exchange is over, or `until`, if that is
 * soon: how many, or -1 when a look would have met one. The next look is at `look` and met
 * nothing. Room for EXCHANGE_MOST. */
int speaker_replies(struct speaker *s, double off, double look, double until, struct cue *cue);

/* An exchange that falls between all looks, from 0 on: how many overs, 0 when looks leave no
 * room for one; *tries: how many were made up for it. Room for one more. */
int speaker_unseen(struct speaker *s, struct cue *cue, int *tries);

#endif
