#include "daemon/post.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/absence.h"
#include "daemon/deafness.h"
#include "daemon/ears.h"
#include "daemon/errand.h"
#include "daemon/log.h"
#include "daemon/post_time.h"
#include "daemon/warmth.h"
#include "daemon/calibrate/tracking.h"

#define IDLE_US     1000000     /* without a hop it looks up so often                    */

enum phase {
	PHASE_MEET = 0, PHASE_WARM_UP, PHASE_LEARN, PHASE_HUNT, PHASE_WARM_AGAIN, PHASE_WATCH, PHASE_OVER
};

struct post {
	const struct watch  *n;
	struct watch_source *is;
	int                  number;
	struct ledger       *ledger;
	struct post_time     time;
	struct schedule     *schedule;
	struct ears          ears;
	int64_t              look_us;
	double               ppm;
	struct tracking     *tracking;          /* NULL: ppm stays as it is                  */
	enum phase           phase;
	struct lesson        lesson;
	struct errand        errand;
	struct absence       absence;
	struct deafness      deafness;
	int                  deaf;              /* visits in a row that could not be had     */
	int64_t              rested, listened_us;
};

struct post *post_create(const struct watch *n, int number, struct ledger *l, struct fault *why)
{
	struct post *p = calloc(1, sizeof *p);
	struct watch_source *is = &n->sources[number];
	struct schedule_rules rules = watch_rules(n->station, &is->about);

	if (!p)
		goto no_memory;
	*p = (struct post){
		.n = n, .is = is, .number = number, .ledger = l, .ppm = n->station->ppm,
		.time = post_time(n, &is->about), .look_us = rules.look_us,
	};
	p->lesson = lesson_of(&is->about, p->look_us);
	/* A virtual one is there. */
	p->phase = is->about.virtual_clock || n->station->warm_up_us == 0 ? PHASE_WARM_UP : PHASE_MEET;
	p->schedule = schedule_create(&rules, n->hops->n);
	if (!p->schedule || absence_create(&p->absence, n, number, l) < 0 ||
	    deafness_create(&p->deafness, n, number, l) < 0)
		goto no_memory;
	if (n->station->track && is->about.tunable && !(p->tracking = tracking_create(n, number, l)))
		goto no_memory;
	if (ears_create(&p->ears, n, p->look_us, why) < 0)
		goto fail;
	return p;
no_memory:
	fault_set(why, FAULT_FATAL, "no memory to keep watch");
fail:
	post_destroy(p);
	return NULL;
}

void post_destroy(struct post *p)
{
	if (!p)
		return;
	ears_free(&p->ears);
	tracking_destroy(p->tracking);
	schedule_destroy(p->schedule);
	absence_free(&p->absence);
	deafness_free(&p->deafness);
	free(p);
}

static void let_pass(struct post *p, int64_t us)
{
	p->errand.tuned = false;
	post_time_pass(&p->time, p->is, us);
}

/* ---- visits ---- */

static void end_visit(struct post *p)
{
	int64_t usual_us = watch_rules(p->n->station, &p->is->about).visit_us;

	if (p->phase == PHASE_WATCH)
		schedule_spent(p->schedule, &p->errand.visit, post_time_spent(&p->time, usual_us),
			       p->errand.overs);
	p->errand.left = 0;
	p->errand.tuned = false;
}

static bool rests(struct post *p, const struct visit *v)
{
	int64_t us = v->first && p->is->about.tunable ?
		warmth_rest_us(p->n->station, schedule_facts(p->schedule).sweeps, &p->rested) : 0;

	if (us > 0)
		let_pass(p, us);
	return us > 0;
}

/* Chooses what to visit; false: lets time pass instead. */
static bool begin_visit(struct post *p)
{
	struct visit v = { .hop = lesson_hop(&p->lesson, p->n->hops), .looks = 1 };

	if (p->phase == PHASE_WATCH && !schedule_next(p->schedule, p->n->challenger, &v)) {
		if (p->absence.tries == 0) {
			let_pass(p, IDLE_US);
			return false;
		}
		v.hop = p->errand.visit.hop;    /* is it back? */
	}
	if (p->phase == PHASE_WATCH && rests(p, &v))
		return false;
	errand_begin(&p->errand, &v);
	return true;
}

/* ---- what may come instead of samples ---- */

/* A look is tried again; what was seen of a park is kept. */
static void break_off(struct post *p)
{
	if (p->errand.left > 0 && p->errand.visit.kind != VISIT_SWEEP)
		end_visit(p);
	errand_drop(&p->errand);
}

static enum post_step lost(struct post *p, const struct fault *why_lost, struct fault *why)
{
	if (why_lost->kind != FAULT_RETRY) {
		*why = *why_lost;
		return POST_FAILED;
	}
	int64_t wait_us = absence_lost(&p->absence, &p->time, why_lost);
	break_off(p);
	let_pass(p, wait_us);
	return POST_AGAIN;
}

/* This tuning can't be had, others may: not looked, said once an hour. */
static enum post_step deaf(struct post *p, const struct fault *why_deaf)
{
	absence_deaf(&p->absence, p->errand.visit.hop, p->time.now_us, why_deaf);
	p->errand.overs = -1;
	end_visit(p);
	p->time.free_mono = -1;
	if (p->phase < PHASE_WATCH)
		p->lesson.blocks++;
	if (++p->deaf > p->n->hops->n) {        /* to none at all: not in a hurry */
		p->deaf = 0;
		let_pass(p, IDLE_US);
	}
	return POST_AGAIN;
}

static enum post_step later(struct post *p, struct post_wait *wait)
{
	int64_t now = p->time.clock->now_us(p->time.clock->self);

	absence_later(&p->absence, now);
	*wait = (struct post_wait){ p->is->ops->descriptor ?
		p->is->ops->descriptor(p->is->source) : -1, now + ABSENCE_LATER_US };
	return POST_WAITS;
}

/* ---- samples ---- */

static enum post_step learnt_enough(struct post *p, struct fault *why)
{
	ears_settle(&p->ears);
	if (!p->tracking && p->is->about.tunable)       /* else it is told when it is known */
		log_line(LOG_INFO, "crystal: source=\"%s\" ppm=%+.2f as set, not followed",
			 p->is->about.label, p->ppm);
	p->phase = p->tracking ? PHASE_HUNT : PHASE_WATCH;
	if (!p->is->about.tunable && p->is->ops->restart(p->is->source, why) < 0)
		return POST_FAILED;
	return POST_AGAIN;
}

/* Before the watch begins: it is there, so from now on it warms up; what the
 * passband is; and where, for before channels can be told apart the crystal's error
 * must be. */
static enum post_step prepare(struct post *p, const struct block *b, struct fault *why)
{
	const struct hop *hop = &p->n->hops->hops[p->errand.visit.hop];

	errand_drop(&p->errand);
	if (p->phase == PHASE_MEET)
		p->phase = PHASE_WARM_UP;
	else if (p->phase == PHASE_LEARN && lesson_learn(&p->lesson, &p->ears, hop, b))
		return learnt_enough(p, why);
	else if (p->phase == PHASE_HUNT) {
		p->lesson.blocks++;
		if (!tracking_overhear(p->tracking, p->errand.visit.hop, ears_for(&p->ears, hop), b,
				       &p->ppm))
			p->phase = PHASE_WATCH;
	}
	return POST_AGAIN;
}

static enum post_step hear(struct post *p, const struct block *b, struct fault *why)
{
	const struct entry e = {
		.post = p->number, .visit = &p->errand.visit, .ppm = p->ppm, .block = b,
		.deaf = p->deafness.deaf,
		.revisit_us = p->is->about.tunable ? schedule_facts(p->schedule).sweep_us : p->look_us,
		.ear = ears_for(&p->ears, &p->n->hops->hops[p->errand.visit.hop]),
	};
	bool heard = true;
	int next;

	if (!schedule_holds(p->schedule, p->errand.visit.hop)) {       /* another's by now */
		errand_drop(&p->errand);
		return POST_AGAIN;
	}
	if (p->errand.left == 1 && schedule_foresee(p->schedule, &next))
		errand_order(&p->errand, p->n, p->is, p->ppm, next);
	if (p->errand.visit.kind == VISIT_CHALLENGE) {
		ledger_show(p->ledger, &e);
	} else {
		int overs = ledger_enter(p->ledger, &e, why);
		if (overs < 0)
			return POST_BROKEN;
		p->errand.overs += overs;
		heard = deafness_follow(&p->deafness, b) != HEARING_NOTHING;
	}
	if (heard) {
		if (p->tracking && p->errand.visit.kind != VISIT_CHALLENGE)
			tracking_look(p->tracking, p->errand.visit.hop, e.ear, &p->ppm);
		p->listened_us += p->look_us;
	}
	if (--p->errand.left == 0)
		end_visit(p);
	if (!heard && deafness_wants_remedy(&p->deafness)) {
		break_off(p);
		p->is->ops->renew(p->is->source);
	}
	return POST_AGAIN;
}

static void let_warm_up(struct post *p, int64_t us, const char *before)
{
	warmth_told(p->ledger, p->time.now_us, us, before);
	let_pass(p, us);
}

static bool warms_again(struct post *p, int64_t away_us)
{
	int64_t us = warmth_again_us(p->n->station, away_us);

	if (p->phase != PHASE_WATCH || us == 0)
		return false;
	p->phase = PHASE_WARM_AGAIN;
	errand_drop(&p->errand);
	let_warm_up(p, us, "the next look");
	return true;
}

static enum post_step take(struct post *p, const struct block *b, struct fault *why)
{
	int64_t away_us = p->absence.tries > 0 ? b->mono_us - p->absence.lost_mono : 0;
	enum post_step went;

	p->deaf = 0;
	if (absence_back(&p->absence, b))
		deafness_forget(&p->deafness);
	ledger_clock(p->ledger, b);
	post_time_block(&p->time, b);
	if (warms_again(p, away_us))
		return POST_AGAIN;
	went = p->phase < PHASE_WATCH ? prepare(p, b, why) : hear(p, b, why);
	if (p->errand.left == 0)
		p->time.free_mono = p->time.now_mono;
	return went;
}

/* ---- the step ---- */

/* The others are not kept waiting for it. */
static enum post_step find_source(struct post *p, struct fault *why)
{
	struct fault absent;

	p->is->request.at_once = true;
	p->is->source = p->is->ops->open(&p->is->request, &absent);
	return p->is->source ? POST_AGAIN : lost(p, &absent, why);
}

static enum post_step warm_up(struct post *p)
{
	int64_t us = warmth_first_us(p->n->station, &p->is->about);

	p->phase = PHASE_LEARN;
	if (us > 0)
		let_warm_up(p, us, "the first look");
	return POST_AGAIN;
}

static enum post_step listen(struct post *p, struct post_wait *wait, struct fault *why)
{
	size_t samples = ear_samples(ears_for(&p->ears, &p->n->hops->hops[p->errand.visit.hop]));
	struct block b;
	struct fault trouble;
	int got = errand_tune(&p->errand, p->n, p->is, p->ppm, &trouble);

	if (got >= 0)
		got = p->is->ops->read(p->is->source, samples, &b, &trouble);
	switch (got) {
	case SOURCE_LATER:
		return later(p, wait);
	case SOURCE_DEAF:
		return deaf(p, &trouble);
	case SOURCE_FAULT:
		return lost(p, &trouble, why);
	}
	if (got == SOURCE_BLOCK && b.n == samples)
		return take(p, &b, why);
	/* The end, or the tail of a recording, shorter than a look. */
	if (p->phase == PHASE_LEARN)
		return learnt_enough(p, why);
	p->phase = PHASE_OVER;
	return POST_OVER;
}

enum post_step post_step(struct post *p, struct post_wait *wait, struct fault *why)
{
	if (p->phase == PHASE_OVER)
		return POST_OVER;
	if (!post_time_passed(&p->time)) {
		*wait = (struct post_wait){ -1, p->time.due_us };
		return POST_WAITS;
	}
	if (!p->is->source)
		return find_source(p, why);
	if (p->phase == PHASE_WARM_UP)
		return warm_up(p);
	if (p->phase == PHASE_WARM_AGAIN)
		p->phase = PHASE_WATCH;
	if (p->errand.left == 0 && !begin_visit(p))
		return POST_AGAIN;
	return listen(p, wait, why);
}

/* ---- for whoever keeps the posts ---- */

struct schedule *post_schedule(const struct post *p)
{
	return p->schedule;
}

enum attendance post_attendance(const struct post *p, int64_t now_mono, int64_t *away_us)
{
	*away_us = 0;
	if (p->phase == PHASE_OVER) {
		*away_us = INT64_MAX;
		return POST_AWAY;
	}
	if (absence_is(&p->absence, now_mono, away_us))
		return POST_AWAY;
	return p->phase == PHASE_WATCH ? POST_READY : POST_COMING;
}

int64_t post_now_us(const struct post *p)
{
	return p->time.now_us;
}

int64_t post_now_mono(const struct post *p)
{
	return p->time.now_mono;
}

int64_t post_listened_us(const struct post *p)
{
	return p->listened_us;
}

void post_leave(struct post *p, const struct fault *failed)
{
	absence_end(&p->absence, p->time.now_us);
	deafness_end(&p->deafness, p->time.now_us);
	if (failed)
		ledger_incident(p->ledger, "stopped", p->time.now_us, 0, "%s", failed->text);
	p->phase = PHASE_OVER;
}
