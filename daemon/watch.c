#include "daemon/watch.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "daemon/ledger.h"
#include "daemon/log.h"
#include "daemon/post.h"
#include "daemon/roster.h"

#define STREAM_LOOK_US 10000    /* a recording is cut into looks of this length        */
#define HICCUP_US      2000000  /* hops of a post away for so long go to others        */
#define START_US       10000000 /* so long those that are ready wait for one that comes */
#define SHARE_US       1000000  /* the roster is looked at so often                    */

struct watching {
	const struct watch *n;
	const struct clock *clock;
	struct ledger *ledger;
	struct post   *post[ROSTER_POSTS];
	bool           over[ROSTER_POSTS];
	struct roster  roster;
	int64_t        began_mono;      /* by the watch's clock                        */
	int64_t        ready_mono;      /* when the first post was; -1: none yet       */
	int64_t        shared_mono;
	int            moves[ROSTER_POSTS][ROSTER_POSTS];       /* hops, from and to   */
	int64_t        hour_mono, hour_listened[ROSTER_POSTS];  /* at the last hourly line ... */
	int64_t        hour_spent[ROSTER_POSTS];        /* ... in visits, retunes included */
	bool           done;
};

int64_t watch_look_us(const struct station *s, const struct source_about *about)
{
	return about->tunable ? s->dwell_us : STREAM_LOOK_US;
}

struct schedule_rules watch_rules(const struct station *s, const struct source_about *about)
{
	struct schedule_rules r = {
		.look_us = watch_look_us(s, about), .visit_us = watch_look_us(s, about),
		.revisit_us = s->revisit_us, .park_us = s->park_us,
	};

	if (about->tunable) {
		r.visit_us += about->retune_us ? about->retune_us : RETUNE_US;
		r.park_share = s->park_share;
		r.challenge_share = s->challenge_share;
	}
	return r;
}

/* ---- sharing out ---- */

static void moved(void *self, int hop, int from, int to)
{
	struct watching *w = self;

	schedule_drop(post_schedule(w->post[from]), hop);
	schedule_take(post_schedule(w->post[to]), hop);
	w->moves[from][to]++;
}

static void say_moved(struct watching *w, int from, int to, int64_t at_us)
{
	int hops = w->moves[from][to];
	const char *a = w->n->sources[from].about.label, *b = w->n->sources[to].about.label;

	if (hops == 0)
		return;
	w->moves[from][to] = 0;
	progress_clear(w->n->progress);
	log_line(LOG_NOTICE, "hops handed over: hops=%d from=\"%s\" to=\"%s\"", hops, a, b);
	ledger_incident(w->ledger, "handed", at_us, 0, "%d hop%s went from %s to %s", hops,
			hops == 1 ? "" : "s", a, b);
}

/* One that went away a moment ago may be back in another; one that only comes may
 * take its time while nobody is ready. */
static enum attendance attendance(struct watching *w, int i, int64_t now_mono)
{
	int64_t away_us;
	enum attendance is = post_attendance(w->post[i], now_mono, &away_us);

	if (is == POST_AWAY && away_us < HICCUP_US)
		return w->roster.is[i];
	if (is == POST_READY && w->ready_mono < 0)
		w->ready_mono = now_mono;
	if (is == POST_COMING && w->ready_mono >= 0 && now_mono - w->ready_mono > START_US)
		return POST_AWAY;
	return is;
}

static void share_out(struct watching *w, int64_t now_mono, int64_t now_us)
{
	int n = w->n->n_sources;

	if (n == 1 || now_mono - w->shared_mono < SHARE_US)
		return;
	w->shared_mono = now_mono;
	for (int i = 0; i < n; i++) {
		struct schedule *s = post_schedule(w->post[i]);
		w->roster.is[i] = attendance(w, i, now_mono);
		if (w->roster.is[i] == POST_READY && schedule_held(s) > 1)   /* one alone needs no retune */
			roster_cost(&w->roster, i, (double)schedule_facts(s).sweep_us / schedule_held(s));
	}
	roster_share(&w->roster, moved, w);
	for (int from = 0; from < n; from++)
		for (int to = 0; to < n; to++)
			say_moved(w, from, to, now_us);
}

/* ---- the hour ---- */

#define LIST 128

/* "72 %,70 %": one figure a post. */
static void add_figure(char list[LIST], double figure, int decimals, const char *unit)
{
	size_t n = strlen(list);

	if (n > 0 && n + 1 < LIST)
		strcpy(list + n++, ",");
	snprintf(list + n, LIST - n, "%.*f%s", decimals, figure, unit);
}

static double percent(int64_t us, int64_t of_us)
{
	return of_us > 0 ? 100.0 * (double)us / (double)of_us : 0;
}

static int64_t spent_us(const struct schedule_facts *f)
{
	int64_t us = 0;

	for (int i = 0; i < VISIT_KINDS; i++)
		us += f->spent_us[i];
	return us;
}

/* One line for all: what was heard, and by post the share of the time it listened: of all,
 * and of what it neither rested nor was away (at work). */
static void hourly_line(struct watching *w, struct outbox_sum sum, int64_t now_mono)
{
	char shares[LIST] = "", at_work[LIST] = "", revisits[LIST] = "";
	int64_t sweeps = 0, parks = 0, past_us = now_mono - w->hour_mono;

	for (int i = 0; i < w->n->n_sources; i++) {
		struct schedule_facts f = schedule_facts(post_schedule(w->post[i]));
		int64_t us = post_listened_us(w->post[i]) - w->hour_listened[i];
		int64_t spent = spent_us(&f) - w->hour_spent[i];
		w->hour_listened[i] += us;
		w->hour_spent[i] += spent;
		add_figure(shares, percent(us, past_us), 0, "%");
		add_figure(at_work, percent(us, spent), 0, "%");
		add_figure(revisits, (double)f.sweep_us * 1e-6, 2, "s");
		sweeps += f.sweeps;
		parks += f.visits[VISIT_PARK];
	}
	w->hour_mono = now_mono;
	progress_clear(w->n->progress);
	if (!w->n->progress->shown)
		log_line(LOG_INFO, "hour done: looks=%" PRId64 " transmissions=%" PRId64 " sweeps=%" PRId64
			 " revisit=%s parks=%" PRId64 " parked=%" PRId64 " listening=%s at_work=%s",
			 sum.looks, sum.transmissions, sweeps, revisits, parks, sum.parked, shares,
			 at_work);
}

/* ---- the round ---- */

/* What is waited for when no post has anything to do. */
struct wish {
	bool    again;
	int     descriptors[CLOCK_DESCRIPTORS], n;
	int64_t until_us;
};

static bool is_virtual(const struct watching *w, int i)
{
	return w->n->sources[i].about.virtual_clock;
}

/* Those with a clock of their own go on together: the one that is behind first. */
static int behind(const struct watching *w)
{
	int first = -1;

	for (int i = 0; i < w->n->n_sources; i++)
		if (!w->over[i] && is_virtual(w, i) &&
		    (first < 0 || post_now_us(w->post[i]) < post_now_us(w->post[first])))
			first = i;
	return first;
}

static int64_t now_mono(const struct watching *w, int i)
{
	return is_virtual(w, i) ? post_now_mono(w->post[i]) : w->clock->now_us(w->clock->self);
}

/* Not one of the sources has ever been there. */
static bool none_came(const struct watching *w)
{
	int64_t away_us, now = w->clock->now_us(w->clock->self);

	for (int i = 0; i < w->n->n_sources; i++)
		if (is_virtual(w, i) || post_attendance(w->post[i], now, &away_us) != POST_AWAY)
			return false;
	return ledger_start_mono(w->ledger) < 0;
}

/* When the watch is to end; INT64_MAX: not by itself, or not known yet. It lasts from
 * the first look on, but nobody is waited for longer than it would last. */
static int64_t end_mono(const struct watching *w)
{
	int64_t start = ledger_start_mono(w->ledger);

	if (w->n->for_us == 0)
		return INT64_MAX;
	if (start < 0)
		return none_came(w) ? w->began_mono + w->n->for_us : INT64_MAX;
	return start + w->n->for_us;
}

/* As long as was asked for, or until then by the clock on the wall. */
static bool time_is_up(const struct watching *w, int i)
{
	return now_mono(w, i) >= end_mono(w) ||
	       (w->n->until_us && post_now_us(w->post[i]) >= w->n->until_us);
}

static void add_wish(struct wish *wish, const struct post_wait *wait)
{
	if (wait->descriptor >= 0 && wish->n < CLOCK_DESCRIPTORS)
		wish->descriptors[wish->n++] = wait->descriptor;
	if (wait->until_us < wish->until_us)
		wish->until_us = wait->until_us;
}

static int others(const struct watching *w, int post)
{
	int n = 0;

	for (int i = 0; i < w->n->n_sources; i++)
		n += i != post && !w->over[i];
	return n;
}

/* One that failed for good is only the end when no other is left. */
static int failed(struct watching *w, int i, const struct fault *why)
{
	w->over[i] = true;
	post_leave(w->post[i], why);
	if (others(w, i) == 0)
		return -1;
	progress_clear(w->n->progress);
	log_line(LOG_ERROR, "source failed, going on without it: %s", why->text);
	return 0;
}

static int step(struct watching *w, int i, struct wish *wish, struct fault *why)
{
	struct post_wait wait = { -1, INT64_MAX };

	switch (post_step(w->post[i], &wait, why)) {
	case POST_BROKEN:
		ledger_incident(w->ledger, "stopped", post_now_us(w->post[i]), 0, "%s", why->text);
		return -1;
	case POST_FAILED:
		return failed(w, i, why);
	case POST_OVER:
		w->over[i] = true;
		break;
	case POST_WAITS:
		add_wish(wish, &wait);
		return 0;
	case POST_AGAIN:
		break;
	}
	wish->again = true;
	return 0;
}

/* After a step of post i, or while all wait: what is due. */
static int see_to(struct watching *w, int i, struct fault *why)
{
	int64_t now = now_mono(w, i), start = ledger_start_mono(w->ledger);
	struct outbox_sum sum;

	if (start >= 0)
		progress_at(w->n->progress, now - start);
	if (w->hour_mono < 0)
		w->hour_mono = start;
	if (ledger_hour_done(w->ledger, &sum))
		hourly_line(w, sum, now);
	share_out(w, now, post_now_us(w->post[i]));
	return ledger_keep(w->ledger, now, why);
}

/* Every live post, and of the others the one behind, gets a step. */
static int go_round(struct watching *w, struct fault *why)
{
	struct wish wish = { .until_us = INT64_MAX };
	int first = behind(w);
	bool any = false;

	for (int i = 0; i < w->n->n_sources && !*w->n->stop; i++) {
		if (w->over[i] || (is_virtual(w, i) && i != first))
			continue;
		if (time_is_up(w, i)) {
			w->over[i] = true;
			wish.again = true;
			continue;
		}
		any = true;
		if (step(w, i, &wish, why) < 0 || see_to(w, i, why) < 0)
			return -1;
	}
	w->done = !any && !wish.again;
	if (w->done || wish.again || *w->n->stop)
		return 0;
	add_wish(&wish, &(struct post_wait){ -1, ledger_due_mono(w->ledger) });
	add_wish(&wish, &(struct post_wait){ -1, end_mono(w) });
	if (w->n->n_sources > 1)
		add_wish(&wish, &(struct post_wait){ -1, w->shared_mono + SHARE_US });
	w->clock->wait(w->clock->self, wish.descriptors, wish.n, wish.until_us, w->n->stop);
	return 0;
}

/* ---- begin and end ---- */

static int begin(struct watching *w, struct fault *why)
{
	const struct watch *n = w->n;

	w->ledger = ledger_create(n, why);
	if (!w->ledger)
		return -1;
	for (int i = 0; i < n->n_sources; i++) {
		w->post[i] = post_create(n, i, w->ledger, why);
		if (!w->post[i])
			return -1;
	}
	if (roster_create(&w->roster, n->n_sources, n->hops->n,
			  (double)watch_rules(n->station, &n->sources[0].about).visit_us) < 0)
		return fault_set(why, FAULT_FATAL, "no memory to share out hops");
	for (int i = 0; i < n->hops->n; i++)
		schedule_take(post_schedule(w->post[w->roster.post[i]]), i);
	return 0;
}

static void finish(struct watching *w)
{
	for (int i = 0; i < w->n->n_sources; i++)
		post_destroy(w->post[i]);
	roster_free(&w->roster);
	ledger_destroy(w->ledger);
}

static int64_t last_us(const struct watching *w)
{
	int64_t last = 0;

	for (int i = 0; i < w->n->n_sources; i++)
		if (post_now_us(w->post[i]) > last)
			last = post_now_us(w->post[i]);
	return last;
}

int watch_run(const struct watch *n, struct fault *why)
{
	struct watching w = { .n = n, .clock = n->clock ? n->clock : &clock_of_computer,
			      .ready_mono = -1, .hour_mono = -1 };
	struct fault late;
	int result = -1;

	w.began_mono = w.clock->now_us(w.clock->self);
	if (begin(&w, why) < 0)
		goto done;
	do
		result = go_round(&w, why);
	while (result == 0 && !w.done && !*n->stop && !ledger_full(w.ledger));
	if (result == 0 && !*n->stop && none_came(&w))
		result = fault_set(why, FAULT_RETRY, "nothing was looked at: %s%s",
				   n->n_sources > 1 ? "none of the sources" : n->sources[0].about.label,
				   n->n_sources > 1 ? " came" : " never came");
	for (int i = 0; i < n->n_sources; i++)
		post_leave(w.post[i], NULL);
	if (ledger_close(w.ledger, last_us(&w), result < 0 ? &late : why) < 0) {
		progress_clear(n->progress);
		if (result < 0)
			log_line(LOG_ERROR, "%s", late.text);
		result = -1;
	}
	progress_clear(n->progress);
	if (result == 0)
		hourly_line(&w, ledger_sum(w.ledger), post_now_mono(w.post[0]));
done:
	finish(&w);
	return result;
}
