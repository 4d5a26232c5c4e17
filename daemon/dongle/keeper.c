#include "daemon/dongle/keeper.h"

#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <unistd.h>

#include "daemon/dongle/capture.h"
#include "daemon/dongle/deadline.h"
#include "daemon/dongle/identity.h"
#include "daemon/dongle/tuning.h"
#include "daemon/dongle/stream.h"
#include "daemon/dongle/walls.h"

enum state {
	AWAY = 0,                       /* no process                                 */
	OPENING,                        /* told to open it                            */
	OPEN,                           /* not tuned                                  */
	SETTING,                        /* told to tune it                            */
	TUNED
};

struct keeper {
	struct identity who;
	bool            bias_tee;
	struct capture *capture;        /* NULL: none                                 */
	bool            killed;         /* capture is to go when it has ended         */
	struct stream  *stream;
	int             poll;           /* what to wait on: capture's and the deadline */
	enum state      state;
	struct dongle_facts facts;      /* name "": not met yet                       */
	struct tuning   wanted;
	bool            wants;
	struct dongle_settings asked;   /* of the order under way                     */
	struct dongle_settings set;     /* rate 0: none, or nobody knows              */
	struct freq     centre;         /* where the tuner truly stands               */
	bool            started;        /* was tuned since it was opened              */
	bool            rested;         /* what came meanwhile is not wanted          */
	struct deadline deadline;
	struct dongle_counts counts;
};

/* ---- deadlines ---- */

#define SECOND  1000000
#define MEET_US (2 * SECOND)

/* An ordinary one is open within a second and set up within another. One that does
 * not answer would take 25 s to open, and then have no tuner: the sooner another
 * process tries, the better. */
static const struct { const char *doing; int first_s, later_s; } limits[] = {
	[OPENING] = { "opening it", 10, 10 },
	[SETTING] = { "tuning it", 8, 3 },
	[TUNED] = { NULL, 2, 1 },       /* samples: the first, more */
};

static void allow(struct keeper *k, bool first)
{
	int s = first ? limits[k->state].first_s : limits[k->state].later_s;

	deadline_set(&k->deadline, stream_now_us() + (int64_t)s * SECOND);
}

/* ---- the process ---- */

/* EPOLL_CTL_ADD or _DEL for what a process has to say. */
static void attend(struct keeper *k, int how)
{
	const int from[] = { capture_socket(k->capture), ring_bell(capture_ring(k->capture)) };
	struct epoll_event e = { .events = EPOLLIN };

	for (int i = 0; i < 2; i++)
		epoll_ctl(k->poll, how, from[i], &e);
}

static void bury(struct keeper *k)
{
	capture_destroy(k->capture);
	k->capture = NULL;
	k->killed = false;
}

/* Ends it, which takes no time unless it is stuck in the kernel. */
static void lose(struct keeper *k)
{
	stream_attach(k->stream, NULL, 0);
	k->state = AWAY;
	k->wants = k->started = false;
	k->set = (struct dongle_settings){ 0 };
	if (!k->capture || k->killed)
		return;
	k->counts.failures++;
	attend(k, EPOLL_CTL_DEL);
	capture_kill(k->capture);
	k->killed = true;
	if (capture_gone(k->capture, 100))
		bury(k);
}

static int died(struct keeper *k, struct fault *why)
{
	char how[60] = "";

	if (capture_gone(k->capture, 100))
		snprintf(how, sizeof how, " %s", capture_end(k->capture));
	lose(k);
	return fault_set(why, FAULT_RETRY, "%s: the process that reads it ended%s", k->who.name, how);
}

static int tell(struct keeper *k, struct capture_order *o, enum state then, struct fault *why)
{
	if (capture_tell(k->capture, o) < 0)
		return died(k, why);
	k->state = then;
	allow(k, !k->started);
	return 0;
}

/* Makes sure that there is a process. */
static int engage(struct keeper *k, struct fault *why)
{
	struct capture_order o = { .verb = CAPTURE_OPEN, .by = k->who.by, .bias_tee = k->bias_tee };

	if (k->killed && capture_gone(k->capture, 0))
		bury(k);
	if (k->killed)
		return fault_set(why, FAULT_RETRY, "%s: the process that read it is stuck in the kernel, "
				 "unplug it for ten seconds", k->who.name);
	if (k->capture)
		return 0;
	k->capture = capture_create();
	if (!k->capture)
		return fault_set(why, FAULT_RETRY, "%s: no process to read it: %m", k->who.name);
	attend(k, EPOLL_CTL_ADD);
	stream_attach(k->stream, capture_ring(k->capture), capture_since_us(k->capture));
	memcpy(o.arg, k->who.arg, sizeof o.arg);
	return tell(k, &o, OPENING, why);
}

/* ---- tuning ---- */

static int order(struct keeper *k, struct fault *why)
{
	struct capture_order o = {
		.verb = CAPTURE_SET, .settings = dongle_settings_for(&k->facts, &k->wanted) };

	k->asked = o.settings;
	stream_hold(k->stream, o.settings.rate_hz);
	return tell(k, &o, SETTING, why);
}

/* As it was tuned: the stream goes on, only what is known of it may have changed. */
static void go_on(struct keeper *k)
{
	k->centre = dongle_stands_at(&k->facts, &k->set, k->wanted.ppm);
	if (!k->rested)
		return;
	stream_rested(k->stream);
	k->rested = false;
	allow(k, true);
}

int keeper_tune(struct keeper *k, const struct tuning *to, struct fault *why)
{
	if (engage(k, why) < 0 || (*k->facts.name && dongle_check(&k->facts, to, why) < 0))
		return -1;
	k->wanted = *to;
	k->wants = true;
	if (k->state == OPENING || k->state == SETTING)
		return 0;
	struct dongle_settings s = dongle_settings_for(&k->facts, to);
	if (k->state == TUNED && dongle_settings_same(&s, &k->set)) {
		go_on(k);
		return 0;
	}
	if (k->rested)
		stream_rested(k->stream);
	k->rested = false;
	return order(k, why);
}

/* ---- answers ---- */

static void opened(struct keeper *k, const struct capture_answer *a)
{
	if (!*k->facts.name)
		walls_tell(a->bare, a->facts.name);     /* each process after it is like the first */
	k->facts = a->facts;
	identity_met(&k->who, &k->facts);
	k->state = OPEN;
	deadline_never(&k->deadline);
}

static int tuned(struct keeper *k, const struct capture_answer *a, struct fault *why)
{
	struct dongle_settings s = dongle_settings_for(&k->facts, &k->wanted);

	k->counts.retunes++;
	k->started = true;
	k->state = OPEN;
	if (!dongle_settings_same(&s, &k->asked))
		return order(k, why);           /* has thought better of it meanwhile */
	if (a->deaf) {
		k->wants = false;
		k->set = (struct dongle_settings){ 0 };
		fault_set(why, FAULT_RETRY, "%s: did not lock at %.1f MHz", k->who.name,
			  k->asked.centre_hz * 1e-6);
		return SOURCE_DEAF;
	}
	k->set = k->asked;
	k->centre = dongle_stands_at(&k->facts, &k->set, k->wanted.ppm);
	stream_fresh(k->stream, a->put, a->at_us);
	k->state = TUNED;
	allow(k, true);
	return 0;
}

/* 0, -1 or SOURCE_DEAF. */
static int heed(struct keeper *k, struct fault *why)
{
	struct capture_answer a;

	switch (capture_take(k->capture, &a)) {
	case CAPTURE_DEAD:
		return died(k, why);
	case CAPTURE_NONSENSE:
		lose(k);
		return fault_set(why, FAULT_RETRY, "%s: its process talks nonsense", k->who.name);
	case CAPTURE_NOTHING:
		return 0;
	case CAPTURE_ANSWER:
		break;
	}
	if (a.why.kind != FAULT_NONE) {
		*why = a.why;
		/* What was a person's mistake at the beginning may pass later: a second one
		 * of its serial is unplugged again. Nor may this process end the watch. */
		if (k->counts.samples > 0)
			why->kind = FAULT_RETRY;
		lose(k);
		return -1;
	}
	if (k->state == OPENING)
		opened(k, &a);
	return k->state == SETTING ? tuned(k, &a, why) : 0;
}

/* ---- samples ---- */

static int overdue(struct keeper *k, struct fault *why)
{
	enum state was = k->state;
	bool first = was == TUNED ? stream_heard_us(k->stream) == 0 : !k->started;
	int limit_s = first ? limits[was].first_s : limits[was].later_s;

	lose(k);
	if (was != TUNED)
		return fault_set(why, FAULT_RETRY, "%s: %s was not done within %d s, unplug it for ten "
				 "seconds", k->who.name, limits[was].doing, limit_s);
	return fault_set(why, FAULT_RETRY, "%s: no samples for %d s, unplug it for ten seconds and try "
			 "another port", k->who.name, limit_s);
}

static int spoilt(struct keeper *k, enum stream_result r, struct fault *why)
{
	double percent = 100 * stream_share(k->stream);
	int32_t rate_hz = k->asked.rate_hz;

	lose(k);
	if (r == STREAM_THIN)
		return fault_set(why, FAULT_RETRY, "%s: only %.0f %% of its samples arrive at %d S/s, %s",
				 k->who.name, percent, rate_hz, rate_hz > 2400000 ? "use 2.4 MS/s" :
				 "try another port or cable, without a hub");
	return fault_set(why, FAULT_RETRY, "%s: %s", k->who.name,
			 r == STREAM_ENDED ? "it vanished, plug it in again" :
			 r == STREAM_NO_MEMORY ? "no memory for its samples" :
			 "its process sends nonsense");
}

static int take(struct keeper *k, size_t n, struct block *out, struct fault *why)
{
	enum stream_result r = stream_read(k->stream, n, out);
	int64_t heard_us = stream_heard_us(k->stream);

	if (r == STREAM_LATER) {
		if (k->state == TUNED && heard_us)
			deadline_set(&k->deadline, heard_us + (int64_t)limits[TUNED].later_s * SECOND);
		return deadline_passed(&k->deadline) ? overdue(k, why) : SOURCE_LATER;
	}
	if (r != STREAM_BLOCK)
		return spoilt(k, r, why);
	out->centre = k->centre;
	k->counts.samples += (int64_t)n;
	k->counts.listened_us += (int64_t)((double)n * 1e6 / out->rate_hz);
	return SOURCE_BLOCK;
}

int keeper_read(struct keeper *k, size_t n, struct block *out, struct fault *why)
{
	int r = k->state == AWAY ? 0 : heed(k, why);

	if (r != 0)
		return r;
	if (k->state == OPEN && k->wants &&
	    (dongle_check(&k->facts, &k->wanted, why) < 0 || order(k, why) < 0))
		return SOURCE_FAULT;
	if (!k->wants)
		return fault_set(why, FAULT_RETRY, "%s: is not tuned", k->who.name);
	if (k->state == TUNED && k->rested)
		go_on(k);
	return take(k, n, out, why);
}

int keeper_descriptor(const struct keeper *k)
{
	return k->poll;
}

void keeper_rest(struct keeper *k)
{
	k->rested = true;
}

/* Samples may come all the while, but of a tuner that forgot what it was told. */
void keeper_renew(struct keeper *k)
{
	lose(k);
}

/* ---- from the first to the last ---- */

struct keeper *keeper_create(const char *arg, bool bias_tee)
{
	struct keeper *k = calloc(1, sizeof *k);
	struct epoll_event timer = { .events = EPOLLIN };

	if (!k)
		return NULL;
	k->poll = k->deadline.timer = -1;
	k->bias_tee = bias_tee;
	k->who = identity_asked(arg);
	k->stream = stream_create();
	k->poll = epoll_create1(EPOLL_CLOEXEC);
	if (deadline_open(&k->deadline) < 0 || !k->stream || k->poll < 0)
		goto fail;
	epoll_ctl(k->poll, EPOLL_CTL_ADD, k->deadline.timer, &timer);
	return k;
fail:
	keeper_destroy(k);
	return NULL;
}

int keeper_meet(struct keeper *k, struct fault *why)
{
	int64_t until_us = stream_now_us() + MEET_US;
	struct pollfd news = { .fd = k->poll, .events = POLLIN };
	int r = engage(k, why);

	while (r == 0 && k->state == OPENING && stream_now_us() < until_us) {
		poll(&news, 1, 500);
		r = heed(k, why);
	}
	return r;
}

/* The process stops the stream and leaves the dongle as it should be. */
void keeper_destroy(struct keeper *k)
{
	if (!k)
		return;
	if (k->capture && !k->killed)
		capture_stop(k->capture);
	capture_destroy(k->capture);
	stream_destroy(k->stream);
	deadline_close(&k->deadline);
	if (k->poll >= 0)
		close(k->poll);
	free(k);
}

void keeper_about(const struct keeper *k, struct source_about *out)
{
	memcpy(out->label, k->who.label, sizeof k->who.label);
	out->gains = k->facts.gains;
}

struct dongle_counts keeper_counts(const struct keeper *k)
{
	struct dongle_counts c = k->counts;
	struct stream_counts s = stream_counts(k->stream);

	c.stale = s.stale / 2;
	c.lost = s.lost / 2;
	c.settling_us = s.settling_us;
	c.tail_us = k->asked.rate_hz > 0 ? s.tail / 2 * 1000000 / k->asked.rate_hz : 0;
	c.gaps = s.gaps;
	return c;
}
