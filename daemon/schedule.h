#ifndef BANDCENSUS_DAEMON_SCHEDULE_H
#define BANDCENSUS_DAEMON_SCHEDULE_H

#include <stdbool.h>
#include <stdint.h>

#include "dsp/freq.h"

/* What a post visits next. Pure: its clock is the time it is told was spent, so
 * rests and losses are not in it. Two promises: a hop is swept again within
 * revisit_us, and of the time that this leaves parks and challenges get their
 * shares. When a park begins depends on the clock alone, never on what was
 * heard; only where it is held does. So sweeps look at all times alike, and their
 * accounts of occupancy stay true. */
enum visit_kind {
	VISIT_SWEEP = 0,        /* a look at the hop, as at all others in turn       */
	VISIT_PARK,             /* looks without a hole, at a hop where something goes on */
	VISIT_CHALLENGE,        /* a look from elsewhere, to find out what a line is */
	VISIT_KINDS
};

struct visit {
	enum visit_kind kind;
	int             hop;
	int             looks;
	struct freq     moved;          /* CHALLENGE: centre moved by this            */
	int             lowered_tenth_db;       /* CHALLENGE: gain lowered by this    */
	int64_t         mark;           /* CHALLENGE: for whoever wants it            */
	bool            first;          /* SWEEP: begins a sweep                      */
};

struct schedule_rules {
	int64_t look_us;                /* length of a look                           */
	int64_t visit_us;               /* usual cost of a sweep's look, retune included; */
					/* what is measured replaces it               */
	int64_t revisit_us;             /* 0: two sweeps and a park                   */
	int64_t park_us;
	double  park_share, challenge_share;    /* of the time left; together 1 at most */
};

/* Whoever wants looks of its own. held: by hop, whether the post has it. false:
 * none now. What it filled in is visited once; if that was in vain it may ask
 * again. kind, first and hop's bounds are seen to; looks 1 at the least. */
struct challenger {
	void *self;
	bool (*wants)(void *self, const bool *held, struct visit *out);
};

struct schedule;

/* Holds no hop yet. NULL: no memory. */
struct schedule *schedule_create(const struct schedule_rules *r, int n_hops);
void schedule_destroy(struct schedule *s);      /* NULL is fine */

/* The hop is to be visited from now on, and before all others; or no more. */
void schedule_take(struct schedule *s, int hop);
void schedule_drop(struct schedule *s, int hop);
bool schedule_holds(const struct schedule *s, int hop);
int schedule_held(const struct schedule *s);    /* how many */

/* What to visit next: the same again until it was spent or its hop dropped.
 * challenger may be NULL. false: it holds no hop. */
bool schedule_next(struct schedule *s, const struct challenger *challenger, struct visit *out);

/* The hop that a sweep's look comes next at, whatever the visit under way will show:
 * only amid a sweep. false: not sure yet. */
bool schedule_foresee(const struct schedule *s, int *hop);

/* That visit is over and took so long in all, retune included. overs: that were
 * seen to begin in a sweep's look; -1: the hop could not be had. */
void schedule_spent(struct schedule *s, const struct visit *v, int64_t us, int overs);

/* How it stands, by what visits cost at present. */
struct schedule_facts {
	int64_t sweep_us;               /* a sweep of the hops held                   */
	int64_t revisit_us;             /* promised; less than a sweep can't be kept  */
	int64_t park_us;                /* as long as there is room for; 0: none      */
	double  left;                   /* share of the time that the promise leaves  */
	double  parks_an_hour;
	int64_t sweeps;                 /* completed                                  */
	int64_t visits[VISIT_KINDS];
	int64_t spent_us[VISIT_KINDS];
};
struct schedule_facts schedule_facts(const struct schedule *s);

#endif
