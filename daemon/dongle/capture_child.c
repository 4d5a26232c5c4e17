#include "daemon/dongle/capture_child.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <unistd.h>

#include "daemon/dongle/capture_order.h"
#include "daemon/dongle/stream.h"
#include "daemon/dongle/walls.h"

#define ORPHAN_S 5              /* to tidy up when the daemon is gone */

struct child {
	struct ring   *ring;
	struct dongle *dongle;          /* NULL: not open    */
	bool           started;         /* it fills the ring */
	unsigned       bare;            /* walls_raise()'s   */
};

/* ---- signals ---- */

/* Hanging in the library must not outlive the daemon for long. */
static void on_orphaned(int number)
{
	(void)number;
	alarm(ORPHAN_S);
}

/* A terminal's signals go to all its processes, a service manager's as well: the
 * daemon says when to stop. They come blocked. */
static void heed_the_daemon_alone(void)
{
	static const int ignored[] = { SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGPIPE };
	struct sigaction ignore = { .sa_handler = SIG_IGN },
			 orphaned = { .sa_handler = on_orphaned };
	sigset_t none;

	for (size_t i = 0; i < sizeof ignored / sizeof ignored[0]; i++)
		sigaction(ignored[i], &ignore, NULL);
	orphaned.sa_flags = SA_RESTART;
	sigaction(SIGUSR1, &orphaned, NULL);
	prctl(PR_SET_PDEATHSIG, SIGUSR1);
	sigemptyset(&none);
	sigprocmask(SIG_SETMASK, &none, NULL);
}

/* ---- orders ---- */

static void open_it(struct child *c, const struct capture_order *o, struct capture_answer *a)
{
	char arg[sizeof o->arg];

	memcpy(arg, o->arg, sizeof arg);
	arg[sizeof arg - 1] = '\0';
	if (!c->dongle)
		c->dongle = dongle_open(arg, (enum dongle_by)o->by, o->bias_tee != 0, &a->why);
	if (c->dongle)
		a->facts = *dongle_facts(c->dongle);
}

static void set_it(struct child *c, const struct capture_order *o, struct capture_answer *a)
{
	if (!c->dongle) {
		fault_set(&a->why, FAULT_FATAL, "dongle: was to be set before it was opened");
		return;
	}
	if (o->settings.rate_hz <= 0 || o->settings.centre_hz <= 0) {
		fault_set(&a->why, FAULT_FATAL, "dongle: was to be set to %d S/s at %d Hz",
			  o->settings.rate_hz, o->settings.centre_hz);
		return;
	}
	enum dongle_result r = dongle_set(c->dongle, &o->settings, &a->why);
	if (r == DONGLE_FAULT)
		return;
	if (!c->started && dongle_start(c->dongle, c->ring, &a->why) < 0)
		return;
	c->started = true;
	a->deaf = r == DONGLE_DEAF;
}

static const struct {
	enum capture_verb verb;
	void (*follow)(struct child *, const struct capture_order *, struct capture_answer *);
} verbs[] = {
	{ CAPTURE_OPEN, open_it },
	{ CAPTURE_SET, set_it },
};

/* false: there was no answering it. */
static bool follow(struct child *c, const struct capture_order *o)
{
	struct capture_answer a = { .number = o->number, .bare = c->bare };
	size_t i = 0;

	while (i < sizeof verbs / sizeof verbs[0] && verbs[i].verb != o->verb)
		i++;
	if (i < sizeof verbs / sizeof verbs[0])
		verbs[i].follow(c, o, &a);
	else
		fault_set(&a.why, FAULT_FATAL, "dongle: order %u is none", o->verb);
	a.put = ring_count(c->ring);
	a.at_us = stream_now_us();
	return send(CAPTURE_SOCKET, &a, sizeof a, MSG_NOSIGNAL) == sizeof a;
}

/* The next order; false when there is to be none. */
static bool wait_for_order(struct capture_order *o)
{
	struct pollfd orders = { .fd = CAPTURE_SOCKET, .events = POLLIN };
	ssize_t n;

	do {
		poll(&orders, 1, -1);
		n = recv(CAPTURE_SOCKET, o, sizeof *o, MSG_DONTWAIT | MSG_TRUNC);
	} while (n < 0 && (errno == EINTR || errno == EAGAIN));
	return n == sizeof *o && o->verb != CAPTURE_STOP;
}

int capture_child(void)
{
	struct child c = { 0 };
	struct capture_order order;

	heed_the_daemon_alone();
	c.ring = ring_join(CAPTURE_MEMORY, CAPTURE_BELL);
	if (!c.ring) {
		fputs("bandcensusd: " CAPTURE_OPTION " is for the daemon itself\n", stderr);
		return 2;
	}
	/* Before a dongle has had a say. */
	c.bare = walls_raise();
	while (wait_for_order(&order) && follow(&c, &order))
		continue;
	/* What hangs is left as it is. */
	if (!dongle_close(c.dongle))
		_exit(1);
	ring_destroy(c.ring);
	return 0;
}
