#ifndef BANDCENSUS_TOOLS_PLAN_GUESS_H
#define BANDCENSUS_TOOLS_PLAN_GUESS_H

#include "tools/plan/census.h"
#include "tools/plan/interests.h"

/* Who a channel's user probably is: what the band plan has there, and what was heard.
 * A guess, to be printed as one; it changes nothing that was heard. Pure. */

/* What the rules look at. */
struct clues {
	const char  *service;           /* of the band plan, or of who the user says it is */
	const char  *title;             /* of that service, for people               */
	struct freq  centre;
	enum kind    kind;              /* KIND_UNKNOWN: not sure                    */
	bool         talks;             /* data in overs and replies as voice has    */
	enum shape   shape;
	double       over_s;            /* mean length of an over; 0: not known      */
	enum below   below;             /* speech: of its most frequent user         */
	enum pairing pair;
	enum speakers speakers;         /* by its levels                             */
};

#define GUESS_TEXT 56                   /* a title and what a rule adds               */

struct guess {
	char        who[GUESS_TEXT];    /* "fire, base or repeater"                  */
	const char *why;                /* "always as strong: one fixed station"     */
};

#define GUESSES 3

/* What a channel of the census tells; title and service are the interest's. */
struct clues guess_clues(const struct census *c, int channel, const struct interest *i);

/* The likeliest first; how many, at least one: what the band plan says. */
int guess_who(const struct clues *k, struct guess out[GUESSES]);

#define GUESS_WORDS 240
/* "probably amateur repeater (its input was heard too), or amateur". Returns out. */
char *guess_words(const struct guess *g, int n, char out[GUESS_WORDS]);

#endif
