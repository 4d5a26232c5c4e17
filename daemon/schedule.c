#include "daemon/schedule.h"

#include <stdlib.h>
#include <string.h>

#define NEVER         INT64_MIN
#define PARK_LEAST_US 1000000   /* shorter ones show the end of few overs                */
#define MEMORY        0.9       /* of a hop's overs, from one sweep to the next          */
#define LIVELY        0.4       /* one over, up to 9 sweeps ago                          */
#define SAVED_PARKS   2.0       /* a share not used is saved up to so many parks         */
#define SAVED_US      1000000   /* the same for challenges                               */
#define SLOWER        1.05      /* a sweep may take so much longer than the last ones    */
#define FOLLOW        (1 / 16.0)        /* of a new visit's cost in the mean             */
#define FORGET        0.995     /* of the dearest visit, each visit                      */

struct place {
	int64_t swept_us, parked_us;    /* when last; NEVER                          */
	double  overs;                  /* of late                                   */
};

struct schedule {
	struct schedule_rules rules;
	int           n_hops, held;
	struct place *place;            /* by hop                                    */
	bool         *holds;            /* by hop                                    */
	int          *queue;            /* hops held, the one not swept for longest first */
	int64_t       now_us;           /* time spent                                */
	int64_t       began_us;         /* of this sweep; NEVER: it is yet to begin  */
	double        cost_us, dearest_us;      /* of a sweep's visit                */
	double        saved_us[VISIT_KINDS];    /* of their shares                   */
	bool          pending;          /* next has been told and is not spent       */
	struct visit  next;
	int64_t       sweeps, visits[VISIT_KINDS], spent_us[VISIT_KINDS];
};

struct schedule *schedule_create(const struct schedule_rules *r, int n_hops)
{
	struct schedule *s = calloc(1, sizeof *s);

	if (!s)
		return NULL;
	*s = (struct schedule){ .rules = *r, .n_hops = n_hops, .began_us = NEVER,
				.cost_us = (double)r->visit_us, .dearest_us = (double)r->visit_us };
	s->place = calloc((size_t)n_hops + 1, sizeof *s->place);
	s->holds = calloc((size_t)n_hops + 1, sizeof *s->holds);
	s->queue = calloc((size_t)n_hops + 1, sizeof *s->queue);
	if (!s->place || !s->holds || !s->queue)
		goto fail;
	for (int i = 0; i < n_hops; i++)
		s->place[i] = (struct place){ .swept_us = NEVER, .parked_us = NEVER };
	return s;
fail:
	schedule_destroy(s);
	return NULL;
}

void schedule_destroy(struct schedule *s)
{
	if (!s)
		return;
	free(s->place);
	free(s->holds);
	free(s->queue);
	free(s);
}

bool schedule_holds(const struct schedule *s, int hop)
{
	return s->holds[hop];
}

int schedule_held(const struct schedule *s)
{
	return s->held;
}

/* Behind those that were never swept either, so that they go by frequency. */
void schedule_take(struct schedule *s, int hop)
{
	int at = 0;

	if (s->holds[hop])
		return;
	while (at < s->held && s->place[s->queue[at]].swept_us == NEVER && s->queue[at] < hop)
		at++;
	memmove(s->queue + at + 1, s->queue + at, (size_t)(s->held - at) * sizeof *s->queue);
	s->queue[at] = hop;
	s->held++;
	s->holds[hop] = true;
	s->place[hop] = (struct place){ .swept_us = NEVER, .parked_us = NEVER };
}

static void leave_queue(struct schedule *s, int hop)
{
	int at = 0;

	while (s->queue[at] != hop)
		at++;
	s->held--;
	memmove(s->queue + at, s->queue + at + 1, (size_t)(s->held - at) * sizeof *s->queue);
}

void schedule_drop(struct schedule *s, int hop)
{
	if (!s->holds[hop])
		return;
	leave_queue(s, hop);
	s->holds[hop] = false;
	if (s->pending && s->next.hop == hop)
		s->pending = false;
}

static double sweep_us(const struct schedule *s)
{
	return s->held * s->cost_us;
}

/* Room for a park between two sweeps, whatever the order they come in. */
static double promise_us(const struct schedule *s)
{
	if (s->rules.revisit_us > 0)
		return (double)s->rules.revisit_us;
	return (double)s->rules.park_us + 2 * sweep_us(s) + 4 * s->dearest_us;
}

/* A single hop is looked at all the time anyway. */
static double left(const struct schedule *s)
{
	double share = 1 - sweep_us(s) / promise_us(s);

	return s->held < 2 || share < 0 ? 0 : share;
}

/* How long something else may take now, and every hop still be swept in time. */
static double slack_us(const struct schedule *s)
{
	double when = (double)s->now_us + 2 * s->dearest_us, promise = promise_us(s),
	       least = promise;

	for (int i = 0; i < s->held; i++) {
		const struct place *p = &s->place[s->queue[i]];
		when += SLOWER * s->cost_us;
		if (p->swept_us == NEVER)
			return 0;
		if ((double)p->swept_us + promise - when < least)
			least = (double)p->swept_us + promise - when;
	}
	return least;
}

/* Lively hops before others; of these the one not parked on for longest. */
static bool rather(const struct place *a, const struct place *b)
{
	bool lively = a->overs >= LIVELY;

	if (lively != (b->overs >= LIVELY))
		return lively;
	if (a->parked_us != b->parked_us)
		return a->parked_us < b->parked_us;
	return a->overs > b->overs;
}

static int where_to_park(const struct schedule *s)
{
	int best = -1;

	for (int i = 0; i < s->n_hops; i++)
		if (s->holds[i] && (best < 0 || rather(&s->place[i], &s->place[best])))
			best = i;
	return best;
}

/* As long as there is room for; 0: not worth it. */
static int64_t park_us(const struct schedule *s, double room_us)
{
	int64_t most = (int64_t)(room_us - s->dearest_us);
	int64_t least = s->rules.park_us < PARK_LEAST_US ? s->rules.park_us : PARK_LEAST_US;

	if (most >= s->rules.park_us)
		return s->rules.park_us;
	return most >= least ? most : 0;
}

/* Right after a sweep, when there is most room. */
static int64_t usual_park_us(const struct schedule *s)
{
	return park_us(s, promise_us(s) - 2 * s->dearest_us - SLOWER * sweep_us(s));
}

/* One long park shows more than two short ones: the room has to be as usual. */
static bool park(struct schedule *s, double room_us, struct visit *out)
{
	int64_t us = park_us(s, room_us);

	if (us == 0 || 10 * us < 9 * usual_park_us(s) || s->saved_us[VISIT_PARK] < (double)us)
		return false;
	*out = (struct visit){ .kind = VISIT_PARK, .hop = where_to_park(s),
			       .looks = (int)(us / s->rules.look_us) };
	return out->looks > 0;
}

static bool challenge(struct schedule *s, double room_us, const struct challenger *c,
		      struct visit *out)
{
	if (!c || s->saved_us[VISIT_CHALLENGE] < s->dearest_us)
		return false;
	*out = (struct visit){ .looks = 1 };
	if (!c->wants(c->self, s->holds, out) || out->hop < 0 || out->hop >= s->n_hops ||
	    !s->holds[out->hop])
		return false;
	out->kind = VISIT_CHALLENGE;
	return out->looks > 0 &&
	       (double)(out->looks * s->rules.look_us) + 2 * s->dearest_us <= room_us;
}

static void choose(struct schedule *s, const struct challenger *c, struct visit *out)
{
	bool between = s->began_us == NEVER;
	double room_us = between && s->held > 1 ? slack_us(s) : 0;

	if (room_us > 0 && (park(s, room_us, out) || challenge(s, room_us, c, out)))
		return;
	*out = (struct visit){
		.kind = VISIT_SWEEP, .hop = s->queue[0], .looks = 1, .first = between
	};
	if (between)
		s->began_us = s->now_us;
}

bool schedule_next(struct schedule *s, const struct challenger *challenger, struct visit *out)
{
	if (s->held == 0)
		return false;
	if (!s->pending)
		choose(s, challenger, &s->next);
	s->pending = true;
	*out = s->next;
	return true;
}

/* The first in the queue once the visit under way has gone to its end. */
bool schedule_foresee(const struct schedule *s, int *hop)
{
	int at = s->held > 0 && s->queue[0] == s->next.hop;

	if (!s->pending || s->next.kind != VISIT_SWEEP || s->began_us == NEVER || at >= s->held ||
	    s->place[s->queue[at]].swept_us > s->began_us)
		return false;
	*hop = s->queue[at];
	return true;
}

/* What a share has not used for long is lost: it went into sweeps. */
static void save_up(struct schedule *s, const struct visit *v, double us)
{
	double most_park = SAVED_PARKS * (double)s->rules.park_us, *saved = s->saved_us;

	saved[VISIT_PARK] += s->rules.park_share * left(s) * us;
	saved[VISIT_CHALLENGE] += s->rules.challenge_share * left(s) * us;
	if (saved[VISIT_PARK] > most_park)
		saved[VISIT_PARK] = most_park;
	if (saved[VISIT_CHALLENGE] > SAVED_US)
		saved[VISIT_CHALLENGE] = SAVED_US;
	if (v->kind != VISIT_SWEEP)
		saved[v->kind] -= us;
}

static void swept(struct schedule *s, const struct visit *v, double us, int overs)
{
	struct place *p = &s->place[v->hop];

	if (overs >= 0) {       /* else it tells nothing of what a look costs */
		s->cost_us += FOLLOW * (us - s->cost_us);
		s->dearest_us = us > FORGET * s->dearest_us ? us : FORGET * s->dearest_us;
		p->overs = MEMORY * p->overs + overs;
	}
	p->swept_us = s->now_us;
	if (s->holds[v->hop]) {
		leave_queue(s, v->hop);
		s->queue[s->held++] = v->hop;
	}
	const struct place *longest = &s->place[s->queue[0]];
	if (s->held > 0 && s->began_us != NEVER && longest->swept_us > s->began_us) {
		s->began_us = NEVER;
		s->sweeps++;
	}
}

void schedule_spent(struct schedule *s, const struct visit *v, int64_t us, int overs)
{
	us = us > 0 ? us : 1;
	s->pending = false;
	s->now_us += us;
	s->visits[v->kind]++;
	s->spent_us[v->kind] += us;
	save_up(s, v, (double)us);
	if (v->kind == VISIT_SWEEP)
		swept(s, v, (double)us, overs);
	if (v->kind == VISIT_PARK)
		s->place[v->hop].parked_us = s->now_us;
}

struct schedule_facts schedule_facts(const struct schedule *s)
{
	struct schedule_facts f = {
		.sweep_us = (int64_t)sweep_us(s), .revisit_us = (int64_t)promise_us(s),
		.park_us = s->held < 2 || s->rules.park_share <= 0 ? 0 : usual_park_us(s),
		.left = left(s), .sweeps = s->sweeps,
	};

	if (f.park_us > 0)
		f.parks_an_hour = 3600e6 * s->rules.park_share * f.left / (double)f.park_us;
	memcpy(f.visits, s->visits, sizeof f.visits);
	memcpy(f.spent_us, s->spent_us, sizeof f.spent_us);
	return f;
}
