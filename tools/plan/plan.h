#ifndef BANDCENSUS_TOOLS_PLAN_PLAN_H
#define BANDCENSUS_TOOLS_PLAN_PLAN_H

#include "tools/plan/attenuator.h"
#include "tools/plan/hazard.h"
#include "tools/plan/interests.h"
#include "tools/plan/landing.h"
#include "tools/plan/licences.h"
#include "tools/plan/suspect.h"
#include "tools/plan/ticks.h"
#include "tools/plan/unknown.h"

/* How much evidence a memory has (common practice, within one night's reach).
 * weak:   fewer than 3 overs, or one exchange only, or the stronger half of its
 *         overs below 8 dB.
 * sure:   at least 10 overs in 5 exchanges (or always on), a median of 12 dB,
 *         70 % of the overs that tell a kind agree on it, and nothing about it
 *         is suspect but that it never ends.
 * likely: what lies between. */
enum certainty { CERTAIN_WEAK = 0, CERTAIN_LIKELY, CERTAIN_SURE };

#define SURE_OVERS     10
#define SURE_EXCHANGES 5
#define SURE_DB        12.0
#define SURE_AGREED    0.7

/* "weak", "likely", "sure". */
const char *certainty_name(enum certainty c);

struct memory_place {
	int bank, slot;                 /* from 1                                */
};

/* What the listener noted of a memory in his set. */
enum noted { NOTED_NOTHING = 0, NOTED_YES, NOTED_NOISE, NOTED_LOCKED, NOTED_COUNT };

/* "", "yes", "noise", "locked". */
const char *noted_name(enum noted n);

struct memory {
	int            bank, slot;      /* both from 1                           */
	int            channel;         /* of the census; -1: nothing was heard  */
	struct freq    frequency;       /* true                                  */
	struct landing landing;         /* what to type                          */
	enum mode      mode;
	int64_t        delay_us;
	bool           locked, priority;
	struct memory_place same_as;         /* a second seat of that memory; bank 0: it is none */
	char           family[24];      /* what its bank is for                  */
	char           service[24];
	char           name[88];        /* with "probably" when it is a guess    */
	double         weight;
	int            rank;            /* of its service among the interests    */
	bool           pinned;
	char           reason[120];
	char           delay_why[80];   /* "": it has none                       */
	enum certainty certainty;
	char           evidence[160];
	char           guess[176];      /* what its name is guessed from; "": the band plan alone */
	char           listed[LISTED_TEXT];     /* in the user's list; "": not   */
	char           pair[48];        /* "input 465.1375 heard too"; "": none  */
	char           hazard[HAZARD_TEXT];     /* what the set itself may add; "": nothing */
	/* What was in the set before (tools/plan/former.h): */
	int            line;            /* of the file that says so; 0: none     */
	enum noted     noted;
	bool           fixed;           /* its slot is pinned: not to be touched */
	bool           kept;            /* nothing was heard, and it stays there */
};

struct search {
	struct freq low, high, step;
	enum mode   mode;
	double      sweep_s;
	double      worth;              /* as tools/plan/ranges.h reckons it: channels, by weight */
	int         band;
	int         lights;             /* channels in it heard too little to keep */
	int         stops;              /* others heard in it: a search stops there, too */
	double      expected;           /* channels without a memory that will talk in SEARCH_HOURS */
	int         expected_low, expected_high;        /* 95 %                  */
	char        reason[240];
};

struct left {
	int  channel;                   /* of the census                         */
	char reason[220];
	char listed[LISTED_TEXT];       /* in the user's list; "": not           */
};

/* Banks to switch on together. */
struct bankset {
	char     name[32];
	uint64_t banks;                 /* bit bank - 1                          */
	int      scanned;               /* memories not locked                   */
	double   cycle_s;               /* once round when nothing is heard      */
	/* Rehearsed over what the survey saw (tools/plan/forecast.h): */
	int      overs;                 /* in it; 0: nothing to rehearse with    */
	double   heard, met;            /* shares of overs, of exchanges         */
	double   urgent;                /* share of overs of what must not wait; -1: none */
	double   held;                  /* share of the time it stands still     */
	double   late_s;                /* mean, of overs heard                  */
	double   worth, bound;          /* of what is wanted, by weight, the share of time heard, and */
					/* what no receiver passes that hears one at a time (together.h) */
};

#define BANKSETS_MAX 16

/* What is wrong with the survey of a band, for the reader to put right. */
struct note {
	int  band;
	char text[240];
};

/* What is to be done with a slot of a set that was in use. */
enum slot_step {
	SLOT_KEEP = 0,          /* nothing                                       */
	SLOT_ADJUST,            /* the frequency stays: delay, lock or priority  */
	SLOT_REPLACE,           /* type over what is in it                       */
	SLOT_NEW,               /* type into an empty one                        */
	SLOT_CLEAR,
	SLOT_STEPS
};

/* "keep", "adjust", "replace", "new", "clear". */
const char *slot_step_name(enum slot_step s);

struct slot_change {
	enum slot_step is;
	int            bank, slot;
	int            memory;          /* of the plan; -1: none comes there     */
	struct freq    was_landed;      /* what is in it now; 0: nothing         */
	enum mode      was_mode;
	char           was[88];         /* its name; "": not given               */
	int            keys;            /* presses, after the change before      */
	char           reason[500];
};

struct plan {
	char            receiver[64];
	struct memory  *memory;         /* by bank and slot                      */
	int             memories;
	struct search  *search;         /* most wanted first                     */
	int             searches;
	struct left    *left;           /* in the census's order                 */
	int             lefts;
	struct bankset  set[BANKSETS_MAX];
	int             sets;
	char            priority[240];  /* which one and why, or why none        */
	char            everyday[240];  /* why bank 1 has what it has; "": no reason of its own */
	struct note    *note;           /* by band                               */
	int             notes;
	bool            again;          /* for a set in use: what follows is told */
	struct slot_change *change;     /* by bank, most wanted first, clearings last */
	int             changes;
	struct margin   margin;         /* what its listener's ticks tell        */
	struct attenuator attenuator;   /* whether to switch it on               */
	struct unknown  unknown;        /* what the survey does not tell, and when to survey next */
};

void plan_destroy(struct plan *p);      /* NULL is fine */

/* What the bank is for: the family of most that are scanned and were put there by the plan, without
 * second seats; where there are none, the first one's. NULL: nothing is in it. */
const char *plan_bank_family(const struct plan *p, int bank);

/* The first rule of the trade that the plan breaks, in words; NULL: none. out is
 * room for the words. */
const char *plan_check(const struct plan *p, const struct receiver *r, const struct census *c,
		       const struct suspect *s, char out[200]);

#endif
