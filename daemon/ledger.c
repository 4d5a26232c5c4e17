#include "daemon/ledger.h"

#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "daemon/ears.h"
#include "daemon/inquirer.h"
#include "daemon/log.h"
#include "daemon/roster.h"
#include "daemon/upkeep.h"
#include "store/picture.h"

#define STEP_US 1000000         /* a clock that moves this much against itself stepped */
#define FILL_US 8000            /* a hole this short in an over counts as on           */

struct ledger {
	const struct watch *n;
	struct track  *track;
	struct outbox *outbox;
	struct inquirer *inquirer;
	struct upkeep  upkeep;
	bool          *open;            /* by seat of the hop in hand: busy at its last look */
	bool          *was;             /* by seat of all hops: the same, however long ago   */
	int           *base;            /* [hops] a hop's first seat in was                  */
	double        *floor_dbfs;      /* by span of the hop in hand                        */
	int parked_on[ROSTER_POSTS]; /* hop of a post's last look, if of a park; else -1 */
	int64_t        start_mono, committed_mono, offset_us;
	int64_t        tidied_us;       /* strips before this are whole hours; 0: no look yet */
	bool           hour_done;
	struct outbox_sum hour;
	int64_t        kept_us;         /* all looks before it are written; 0: none is   */
	int64_t        stuck_us;        /* since when the survey can't be written; 0: it can */
	struct fault   stuck;
};

static int seat_all(struct ledger *l)
{
	const struct hop_plan *p = l->n->hops;
	int all = 0;

	l->base = calloc((size_t)p->n + 1, sizeof *l->base);
	if (!l->base)
		return -1;
	for (int i = 0; i < p->n; i++) {
		l->base[i] = all;
		all += hop_seats(&p->hops[i]);
	}
	l->open = calloc((size_t)all + 1, sizeof *l->open);
	l->was = calloc((size_t)all + 1, sizeof *l->was);
	l->floor_dbfs = calloc((size_t)p->n_spans + 1, sizeof *l->floor_dbfs);
	return l->open && l->was && l->floor_dbfs ? 0 : -1;
}

static void ended(void *self, const struct transmission *t)
{
	struct ledger *l = self;
	struct transmission told = *t;

	inquirer_answer(l->inquirer, &told);
	outbox_ended(l->outbox, &told);
}

static void touched(void *self, const struct touch *t)
{
	struct ledger *l = self;

	outbox_touched(l->outbox, t);
}

struct ledger *ledger_create(const struct watch *n, struct fault *why)
{
	struct ledger *l = calloc(1, sizeof *l);
	struct track_rules rules = { .hang_us = n->station->hang_us, .fill_us = FILL_US };

	if (!l)
		goto no_memory;
	*l = (struct ledger){ .n = n, .start_mono = -1 };
	for (int i = 0; i < ROSTER_POSTS; i++)
		l->parked_on[i] = -1;
	l->outbox = outbox_create(n->run, n->bands, n->n_bands, n->hops);
	l->track = track_create(&rules, n->bands, n->n_bands, ended, touched, l);
	l->inquirer = inquirer_create(n);
	if (!l->outbox || !l->track || !l->inquirer || seat_all(l) < 0)
		goto no_memory;
	l->upkeep = upkeep_create(n, l->outbox);
	if (upkeep_begin(&l->upkeep, why) < 0)
		goto fail;
	return l;
no_memory:
	fault_set(why, FAULT_FATAL, "no memory for the survey");
fail:
	ledger_destroy(l);
	return NULL;
}

void ledger_destroy(struct ledger *l)
{
	if (!l)
		return;
	track_destroy(l->track);
	inquirer_destroy(l->inquirer);
	outbox_destroy(l->outbox);
	free(l->open);
	free(l->was);
	free(l->floor_dbfs);
	free(l->base);
	free(l);
}

void ledger_incident(struct ledger *l, const char *what, int64_t at_us, int64_t until_us,
		     const char *format, ...)
{
	char text[200];
	va_list more;

	va_start(more, format);
	vsnprintf(text, sizeof text, format, more);
	va_end(more);
	outbox_incident(l->outbox, what, at_us, until_us, text);
}

void ledger_clock(struct ledger *l, const struct block *b)
{
	int64_t offset = b->start_us - b->mono_us, moved = offset - l->offset_us;

	if (l->start_mono >= 0 && llabs(moved) >= STEP_US) {
		progress_clear(l->n->progress);
		log_line(LOG_WARNING, "clock stepped: by=%+.1fs", (double)moved * 1e-6);
		ledger_incident(l, "clock", b->start_us, 0,
				"the computer's clock was stepped by %+.1f s",
				(double)moved * 1e-6);
	}
	l->offset_us = offset;
}

int64_t ledger_start_mono(const struct ledger *l)
{
	return l->start_mono;
}

/* Rows are held meanwhile. Said once, and again when they are written. */
static void stuck(struct ledger *l, int64_t now_us, const struct fault *why)
{
	if (l->stuck_us)
		return;
	l->stuck_us = now_us;
	l->stuck = *why;
	progress_clear(l->n->progress);
	log_line(LOG_WARNING, "survey can't be written: %s, trying again", why->text);
}

static void tell_stuck(struct ledger *l, int64_t now_us)
{
	if (l->stuck_us)
		ledger_incident(l, "unwritten", l->stuck_us, now_us,
				"%s; what was heard was held and written later", l->stuck.text);
}

static void written_again(struct ledger *l, int64_t now_us)
{
	if (!l->stuck_us)
		return;
	progress_clear(l->n->progress);
	log_line(LOG_NOTICE, "survey is written again: after=%.0fs",
		 (double)(now_us - l->stuck_us) * 1e-6);
	tell_stuck(l, now_us);
	l->stuck_us = 0;
}

static int commit(struct ledger *l, int64_t now_mono, struct fault *why)
{
	struct upkeep *u = &l->upkeep;
	int64_t now_us = now_mono + l->offset_us;

	l->committed_mono = now_mono;
	if (l->start_mono >= 0) /* before the first look the hour is not known */
		upkeep_room(u, now_us);
	if (u->allowed == ALLOW_NOTHING)
		return 0;
	if (outbox_commit(l->outbox, l->n->survey, u->allowed == ALLOW_ALL, why) == 0) {
		l->kept_us = now_us;
		written_again(l, now_us);
		return upkeep_step(u, now_us, why);
	}
	if (why->kind != FAULT_RETRY)
		return -1;
	stuck(l, now_us, why);
	return 0;
}

bool ledger_full(const struct ledger *l)
{
	return l->upkeep.full;
}

int64_t ledger_due_mono(const struct ledger *l)
{
	return outbox_holds(l->outbox) ? l->committed_mono + l->n->station->commit_us : INT64_MAX;
}

int ledger_keep(struct ledger *l, int64_t now_mono, struct fault *why)
{
	return now_mono < ledger_due_mono(l) ? 0 : commit(l, now_mono, why);
}

static void show(const struct ledger *l, const struct entry *e, const struct judged *j,
		 const bool *open)
{
	const struct sight s = {
		.post = e->post, .visit = e->visit, .hop = &l->n->hops->hops[e->visit->hop],
		.ppm = e->ppm, .block = e->block, .ear = e->ear, .look = ear_look(e->ear),
		.judged = j, .open = open,
	};

	struct artefact_row row;

	for (int i = 0; i < l->n->n_onlookers; i++) {
		const struct onlooker *o = &l->n->onlookers[i];
		o->see(o->self, &s);
		while (o->found && o->found(o->self, &row))
			outbox_artefact(l->outbox, &row);
	}
}

void ledger_show(struct ledger *l, const struct entry *e)
{
	if (!ear_glance(e->ear, e->block)->gap)
		show(l, e, NULL, NULL);
}

/* Busy now, and not when last looked at, however long ago: what never goes off
 * begins no over. */
static int begun(struct ledger *l, int hop, const struct judged *j)
{
	bool *was = l->was + l->base[hop];
	int overs = 0;

	for (int i = 0; i < j->seats; i++) {
		bool busy = j->verdict[i] == VERDICT_BUSY;
		if (busy || j->verdict[i] == VERDICT_IDLE) {
			overs += busy && !was[i];
			was[i] = busy;
		}
	}
	return overs;
}

/* The minutes of hours that are over. What can't be done now is done an hour later, or when
 * a survey begins with this file. */
static int tidy(struct ledger *l, int64_t hour, struct fault *why)
{
	int more = 1;

	if (l->upkeep.allowed == ALLOW_NOTHING)
		return 0;
	while (more > 0)
		more = picture_tidy(l->n->survey, l->tidied_us, hour, why);
	if (more == 0)
		l->tidied_us = hour;
	return more < 0 && why->kind != FAULT_RETRY ? -1 : 0;
}

static int turn_hour(struct ledger *l, const struct block *b, struct fault *why)
{
	int64_t hour = b->start_us - b->start_us % HOUR_US;

	if (l->tidied_us == 0 || hour < l->tidied_us)   /* the clock may have been set back */
		l->tidied_us = hour;
	if (!outbox_hour_turns(l->outbox, b->start_us))
		return 0;
	l->hour = outbox_sum(l->outbox);
	l->hour_done = true;
	return commit(l, b->mono_us, why) < 0 ? -1 : tidy(l, hour, why);
}

/* What the survey is told of the look itself; of a park only that it was held. */
static void account(struct ledger *l, const struct entry *e, const struct judged *j, bool soon)
{
	const struct hop *h = &l->n->hops->hops[e->visit->hop];
	const struct outbox_look look = {
		.hop = e->visit->hop, .look = ear_look(e->ear), .judged = j, .soon = soon,
		.floor_dbfs = l->floor_dbfs,
	};
	int *on = &l->parked_on[e->post];

	if (e->visit->kind == VISIT_PARK) {
		outbox_parked(l->outbox, &look, *on != look.hop);
		*on = look.hop;
		return;
	}
	*on = -1;
	for (int i = 0; i < h->n_spans; i++) {
		const struct span *s = &h->spans[i];
		double floor = ear_floor(e->ear, s->band, s->first + s->count / 2);
		l->floor_dbfs[i] = 10 * log10(fmax(floor, 1e-30));
	}
	outbox_looked(l->outbox, &look);
}

/* Whether the look is one: enough of it is left, and the receiver heard. A deaf one's noise is
 * the converter's, and not to be learnt for the passband's. */
static bool was_look(const struct entry *e)
{
	const struct look *l = ear_look(e->ear);

	if (!e->deaf || deaf_look(e->deaf, e->visit->hop, l, ear_noise(e->ear)) != HEARING_NOTHING)
		return look_holds(l);
	if (e->visit->kind != VISIT_PARK)       /* where nothing was learnt */
		ear_forget(e->ear);
	return false;
}

int ledger_enter(struct ledger *l, const struct entry *e, struct fault *why)
{
	const struct hop *h = &l->n->hops->hops[e->visit->hop];
	const struct block *b = e->block;

	if (l->start_mono < 0)
		l->start_mono = l->committed_mono = b->mono_us;
	if (turn_hour(l, b, why) < 0)
		return -1;
	track_revisit(l->track, e->revisit_us);
	track_open(l->track, h, b->mono_us, l->open);
	bool soon = track_soon(l->track, h, b->mono_us);
	bool parked = e->visit->kind == VISIT_PARK;
	const struct judged *j = parked ? ear_listen_on(e->ear, b, h, l->open) :
		ear_listen(e->ear, b, h, l->open);
	if (!was_look(e))
		return 0;       /* not looked */
	account(l, e, j, soon);
	show(l, e, j, l->open);
	/* A recording is one stay. */
	inquirer_hear(l->inquirer, e->post, b, j, parked || !l->n->sources[e->post].about.tunable);
	track_look(l->track, h, ear_look(e->ear), j);
	return begun(l, e->visit->hop, j);
}

bool ledger_hour_done(struct ledger *l, struct outbox_sum *sum)
{
	bool done = l->hour_done;

	*sum = l->hour;
	l->hour_done = false;
	return done;
}

struct outbox_sum ledger_sum(struct ledger *l)
{
	return outbox_sum(l->outbox);
}

/* The last try failed: what is held goes with us. */
static void lose(const struct ledger *l, struct fault *why)
{
	struct fault because = *why;
	time_t s = (time_t)(l->kept_us / 1000000);
	char since[40] = "the beginning";
	struct tm tm;

	if (l->kept_us && gmtime_r(&s, &tm))
		strftime(since, sizeof since, "%Y-%m-%d %H:%M:%S UTC", &tm);
	fault_set(why, FAULT_FATAL, "%s, and what was heard since %s is lost", because.text, since);
}

/* What was heard is kept, also when a source failed for good. */
int ledger_close(struct ledger *l, int64_t now_us, struct fault *why)
{
	struct survey *s = l->n->survey;

	track_end(l->track);
	tell_stuck(l, now_us);
	if (outbox_commit(l->outbox, s, l->upkeep.allowed == ALLOW_ALL, why) < 0) {
		lose(l, why);
		return -1;
	}
	if (survey_begin(s, why) < 0)
		return -1;
	if (survey_end_run(s, l->n->run, now_us, why) < 0 || survey_commit(s, why) < 0)
		goto undo;
	return tidy(l, INT64_MAX, why);
undo:
	survey_rollback(s);
	return -1;
}
