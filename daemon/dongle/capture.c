#include "daemon/dongle/capture.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/dongle/stream.h"
#include "store/text.h"

/* Four megabytes: the daemon may sleep 0.87 s at 2.4 MS/s. */
#define SLOTS 512

struct capture {
	struct ring *ring;
	int          socket;
	pid_t        pid;               /* 0: none, or reaped                          */
	int          ended;             /* a descriptor readable when it has; -1: none */
	int64_t      since_us;          /* when it was started                         */
	uint32_t     number;            /* of the last order ...                       */
	bool         waits;             /* ... which is not answered yet, ...          */
	bool         opens;             /* ... and was to open it                      */
	char         end[40];
};

/* ---- birth ---- */

/* Moved up, out of the way of the numbers that they get in the child. */
static int high(int descriptor)
{
	return fcntl(descriptor, F_DUPFD_CLOEXEC, 2 * CAPTURE_FREE);
}

/* Signals are blocked until it ignores those that are not for it. */
static int set_signals(posix_spawnattr_t *how)
{
	sigset_t all;

	sigfillset(&all);
	return posix_spawnattr_setsigdefault(how, &all) || posix_spawnattr_setsigmask(how, &all) ||
	       posix_spawnattr_setflags(how, POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETSIGMASK);
}

static int run(struct capture *c, const int given[3])
{
	char name[] = "bandcensusd", option[] = CAPTURE_OPTION;
	char *argv[] = { name, option, NULL };
	posix_spawn_file_actions_t files;
	posix_spawnattr_t how;
	int r = posix_spawn_file_actions_init(&files);

	if (r != 0)
		return r;
	r = posix_spawnattr_init(&how);
	if (r != 0)
		goto no_how;
	for (int i = 0; i < 3 && r == 0; i++)
		r = posix_spawn_file_actions_adddup2(&files, given[i], CAPTURE_SOCKET + i);
	if (r == 0)
		r = posix_spawn_file_actions_addclosefrom_np(&files, CAPTURE_FREE);
	if (r == 0)
		r = set_signals(&how);
	if (r == 0)
		r = posix_spawn(&c->pid, "/proc/self/exe", &files, &how, argv, environ);
	if (r != 0)
		c->pid = 0;
	posix_spawnattr_destroy(&how);
no_how:
	posix_spawn_file_actions_destroy(&files);
	return r;
}

static int start(struct capture *c)
{
	int ends[2], given[3] = { -1, -1, -1 };

	if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) < 0)
		return -1;
	c->socket = ends[0];
	given[0] = high(ends[1]);
	given[1] = high(ring_memory(c->ring));
	given[2] = high(ring_bell(c->ring));
	int r = given[0] < 0 || given[1] < 0 || given[2] < 0 ? EMFILE : run(c, given);
	close(ends[1]);
	for (int i = 0; i < 3; i++)
		if (given[i] >= 0)
			close(given[i]);
	if (r != 0) {
		errno = r;
		return -1;
	}
	c->ended = pidfd_open(c->pid, 0);
	return c->ended < 0 ? -1 : 0;
}

struct capture *capture_create(void)
{
	struct capture *c = calloc(1, sizeof *c);

	if (!c)
		return NULL;
	c->socket = c->ended = -1;
	c->since_us = stream_now_us();
	c->ring = ring_create(SLOTS, DONGLE_DELIVERY);
	if (!c->ring || start(c) < 0)
		goto fail;
	return c;
fail:
	capture_destroy(c);
	return NULL;
}

struct ring *capture_ring(struct capture *c)
{
	return c->ring;
}

int64_t capture_since_us(const struct capture *c)
{
	return c->since_us;
}

int capture_socket(const struct capture *c)
{
	return c->socket;
}

/* ---- talk ---- */

int capture_tell(struct capture *c, struct capture_order *o)
{
	o->number = ++c->number;
	c->waits = true;
	c->opens = o->verb == CAPTURE_OPEN;
	return send(c->socket, o, sizeof *o, MSG_NOSIGNAL | MSG_DONTWAIT) == sizeof *o ? 0 : -1;
}

/* Ends within its room, and is fit for a log, a survey and a page. */
static void mend(char *text, size_t size)
{
	text[size - 1] = '\0';
	text_tame(text);
}

static bool makes_sense(const struct capture *c, const struct capture_answer *a)
{
	return c->waits && a->number == c->number &&
	       a->why.kind >= FAULT_NONE && a->why.kind <= FAULT_FATAL && a->put >= 0 &&
	       a->at_us >= c->since_us && a->at_us <= stream_now_us() &&
	       (!c->opens || a->why.kind != FAULT_NONE || *a->facts.name) &&
	       a->facts.low_mhz >= 0 && a->facts.low_mhz <= a->facts.high_mhz &&
	       a->facts.high_mhz <= DONGLE_MHZ_MOST && gain_steps_check(&a->facts.gains);
}

enum capture_news capture_take(struct capture *c, struct capture_answer *out)
{
	ssize_t n = recv(c->socket, out, sizeof *out, MSG_DONTWAIT | MSG_TRUNC);

	if (n < 0)
		return errno == EAGAIN || errno == EINTR ? CAPTURE_NOTHING : CAPTURE_DEAD;
	if (n == 0)
		return CAPTURE_DEAD;
	if (n != sizeof *out || !makes_sense(c, out))
		return CAPTURE_NONSENSE;
	c->waits = false;
	mend(out->why.text, sizeof out->why.text);
	mend(out->facts.name, sizeof out->facts.name);
	mend(out->facts.serial, sizeof out->facts.serial);
	mend(out->facts.tuner, sizeof out->facts.tuner);
	return CAPTURE_ANSWER;
}

/* ---- death ---- */

void capture_kill(struct capture *c)
{
	if (c->pid)
		kill(c->pid, SIGKILL);
}

bool capture_gone(struct capture *c, int wait_ms)
{
	struct pollfd end = { .fd = c->ended, .events = POLLIN };
	int status = 0;

	if (!c->pid)
		return true;
	if (c->ended >= 0)
		poll(&end, 1, wait_ms);
	if (waitpid(c->pid, &status, WNOHANG) == 0)
		return false;
	c->pid = 0;
	if (WIFSIGNALED(status))
		snprintf(c->end, sizeof c->end, "by signal %d", WTERMSIG(status));
	else
		snprintf(c->end, sizeof c->end, "with code %d", WEXITSTATUS(status));
	return true;
}

void capture_stop(struct capture *c)
{
	struct capture_order o = { .verb = CAPTURE_STOP };

	if (capture_tell(c, &o) < 0)
		return;
	for (int i = 0; i < 8 && !capture_gone(c, 500); i++)
		continue;
}

const char *capture_end(struct capture *c)
{
	return c->end;
}

void capture_destroy(struct capture *c)
{
	if (!c)
		return;
	capture_kill(c);
	capture_gone(c, 100);
	if (c->ended >= 0)
		close(c->ended);
	if (c->socket >= 0)
		close(c->socket);
	ring_destroy(c->ring);
	free(c);
}
