#ifndef BANDCENSUS_TOOLS_PLAN_PAIRS_H
#define BANDCENSUS_TOOLS_PLAN_PAIRS_H

#include <stdbool.h>
#include <stddef.h>

#include "tools/plan/interval.h"

/* What a channel is to another one, a usual split away. */
enum pairing {
	PAIR_NONE = 0,
	PAIR_INPUT,             /* on only while its output, the other, is   */
	PAIR_OUTPUT,            /* the other is its input                    */
	PAIR_SIDE               /* the two take turns: one talks to the other */
};

struct pair {
	enum pairing is;
	int          other;             /* of the census; -1: none           */
	const char  *side;              /* PAIR_SIDE: "ship", "shore", "one" */
	const char  *split;             /* whose split it is: "amateur 2 m"; the census's */
	int          of;                /* the input or the lesser side: what follows is told of it */
	int          overs, common;     /* its overs; those that keep to the other */
	double       expected;          /* of these by chance                */
	double       chance;            /* that so many exchanges keep to it, times the ways tried */
	double       hang_s;            /* its output outlives it by; 0: can't be said */
	double       hang_sigma_s;
	bool         same_tone;
	bool         sure;              /* chance below 1e-5, and tone or levels agree */
};

/* False pairs: so many a survey among the usual splits; and so often two channels that the band plan
 * pairs are told to be one by chance. Most such are (common practice), so less has to be shown. */
#define PAIRS_FALSE         0.01
#define PAIRS_FALSE_PLANNED 0.05

struct census;
struct channel;

/* Finds them all, once channels are measured, and keeps each with its channels. */
void pairs_find(struct census *c);

/* What was told of the same channels at a lower squelch holds at this one: pairs of channels that
 * have none of their own. */
void pairs_adopt(struct census *c, const struct census *lower);

/* "land mobile UHF: 47 of 48 overs of 465.1375 while 460.1375, 6.1 by chance; same tone; the
 * output goes off 1.5 s later (1.2-1.8); sure"; "" when there is none. Returns out. */
#define PAIR_TEXT 220
char *pair_evidence(const struct census *c, int channel, char *out, size_t size);

/* Who is heard on one channel, by the levels of at least ten overs. */
enum speakers {
	SPEAKERS_UNKNOWN = 0,
	SPEAKERS_ONE,           /* a base or a repeater: always as strong     */
	SPEAKERS_SEVERAL,       /* several stations, direct                   */
	SPEAKERS_HALF           /* one, and with time for answers: the other side is not heard */
};

enum speakers channel_speakers(const struct channel *ch);

/* "one transmitter: a base or a repeater" ...; "" for unknown. */
const char *speakers_words(enum speakers s);

#endif
