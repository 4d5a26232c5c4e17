/* The C library's clocks and waits, on the shared clock. Without a scenario they
 * are what they always were. Real ones are reached by their system calls: these
 * work at any time, also before and below a sanitizer's own. */

#include <dlfcn.h>
#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

#include "tests/dongle/asleep.h"
#include "tests/dongle/clock.h"

#define LEAP_POLL_US  2000000   /* a poll that may take so long passes at once     */
#define LEAP_SLEEP_US 900000    /* ... a sleep, or a poll for nothing              */
#define NEVER         -1

static struct timespec timespec_of(int64_t us)
{
	return (struct timespec){ (time_t)(us / 1000000), (long)(us % 1000000 * 1000) };
}

static int64_t us_of(const struct timespec *t)
{
	return (int64_t)t->tv_sec * 1000000 + (t->tv_nsec + 999) / 1000;
}

/* What is waited for may come in a moment; nothing can't. */
static int64_t grace_us(const struct state *s, int64_t us, bool for_something)
{
	if (for_something)
		return us >= LEAP_POLL_US ? (int64_t)(s->scenario.grace_ms * 1000) : NEVER;
	return us >= LEAP_SLEEP_US ? 0 : NEVER;
}

static bool is_utc(clockid_t id)
{
	return id == CLOCK_REALTIME || id == CLOCK_REALTIME_COARSE;
}

static bool is_shared(clockid_t id)
{
	return is_utc(id) || id == CLOCK_MONOTONIC || id == CLOCK_MONOTONIC_RAW ||
	       id == CLOCK_MONOTONIC_COARSE || id == CLOCK_BOOTTIME;
}

/* ---- what time it is ---- */

int clock_gettime(clockid_t id, struct timespec *t)
{
	struct state *s = clock_state();

	if (!s || !is_shared(id))
		return (int)syscall(SYS_clock_gettime, id, t);
	int64_t us = clock_shown_us(s);
	*t = timespec_of(is_utc(id) ? state_utc_us(s, us) : us);
	return 0;
}

int gettimeofday(struct timeval *restrict t, void *restrict zone)
{
	struct timespec now;
	(void)zone;

	clock_gettime(CLOCK_REALTIME, &now);
	*t = (struct timeval){ now.tv_sec, now.tv_nsec / 1000 };
	return 0;
}

time_t time(time_t *t)
{
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	if (t)
		*t = now.tv_sec;
	return now.tv_sec;
}

/* ---- waiting for descriptors ---- */

static int really_poll(struct pollfd *fds, nfds_t n, const struct timespec *t, const sigset_t *mask)
{
	struct timespec left = t ? *t : (struct timespec){ 0 };
	return (int)syscall(SYS_ppoll, fds, n, t ? &left : NULL, mask, sizeof(unsigned long));
}

int ppoll(struct pollfd *fds, nfds_t n, const struct timespec *t, const sigset_t *mask)
{
	struct state *s = clock_state();
	int64_t us = t ? us_of(t) : -1;

	if (!s || us == 0)
		return really_poll(fds, n, t, mask);
	clock_settled();
	if (us < 0) {
		asleep_note(s);
		return really_poll(fds, n, NULL, mask);
	}
	struct wait w = clock_wait_of(s, state_now_us(s) + us, grace_us(s, us, n > 0));
	for (;;) {
		int64_t piece = clock_wait_us(&w);
		struct timespec part = timespec_of(piece);
		int r = really_poll(fds, n, &part, mask);
		if (r == 0 && piece > 0)
			continue;
		clock_waited(&w);
		return r;
	}
}

int poll(struct pollfd *fds, nfds_t n, int ms)
{
	struct timespec t = timespec_of(ms > 0 ? (int64_t)ms * 1000 : 0);
	return ppoll(fds, n, ms < 0 ? NULL : &t, NULL);
}

/* ---- sleeping ---- */

/* 0 or an error code, as clock_nanosleep has it. */
static int sleep_until(struct state *s, int64_t until_us, struct timespec *left)
{
	int64_t grace = grace_us(s, until_us - state_now_us(s), false), piece;
	int interrupted = 0;
	struct wait w = clock_wait_of(s, until_us, grace);

	if (grace != NEVER)
		clock_settled();
	while ((piece = clock_wait_us(&w)) > 0) {
		struct timespec part = timespec_of(piece);
		if (syscall(SYS_clock_nanosleep, CLOCK_MONOTONIC, 0, &part, NULL) < 0) {
			interrupted = errno;
			break;
		}
	}
	if (interrupted && left)
		*left = timespec_of(until_us - state_now_us(s));
	clock_waited(&w);
	return interrupted;
}

int clock_nanosleep(clockid_t id, int flags, const struct timespec *t, struct timespec *left)
{
	struct state *s = clock_state();
	int64_t now, until = us_of(t);

	if (!s || !is_shared(id))
		return syscall(SYS_clock_nanosleep, id, flags, t, left) < 0 ? errno : 0;
	now = state_now_us(s);
	if (!(flags & TIMER_ABSTIME))
		return sleep_until(s, now + until, left);
	return sleep_until(s, is_utc(id) ? now + until - state_utc_us(s, now) : until, NULL);
}

int nanosleep(const struct timespec *t, struct timespec *left)
{
	int r = clock_nanosleep(CLOCK_MONOTONIC, 0, t, left);

	errno = r ? r : errno;
	return r ? -1 : 0;
}

int usleep(useconds_t us)
{
	struct timespec t = timespec_of(us);
	return nanosleep(&t, NULL);
}

unsigned sleep(unsigned seconds)
{
	struct timespec t = { (time_t)seconds, 0 }, left = { 0 };
	return nanosleep(&t, &left) < 0 ? (unsigned)left.tv_sec + 1 : 0;
}

/* ---- waiting for threads ---- */

int pthread_cond_clockwait(pthread_cond_t *restrict c, pthread_mutex_t *restrict m, clockid_t id,
			   const struct timespec *restrict until)
{
	int (*really)(pthread_cond_t *, pthread_mutex_t *, clockid_t, const struct timespec *) =
		(int (*)(pthread_cond_t *, pthread_mutex_t *, clockid_t, const struct timespec *))
			dlsym(RTLD_NEXT, "pthread_cond_clockwait");
	struct state *s = clock_state();

	if (!s)
		return really(c, m, id, until);
	int64_t now = state_now_us(s), us = us_of(until);
	struct wait w = clock_wait_of(s, is_utc(id) ? now + us - state_utc_us(s, now) : us, NEVER);
	for (;;) {
		int64_t piece = clock_wait_us(&w);
		struct timespec end = timespec_of(state_real_us() + piece);
		int r = really(c, m, CLOCK_MONOTONIC, &end);
		if (r == ETIMEDOUT && piece > 0)
			continue;
		clock_waited(&w);
		return r;
	}
}

/* Which clock a condition goes by is in the second bit of this field: so it is laid
 * out in glibc since 2.25. */
int pthread_cond_timedwait(pthread_cond_t *restrict c, pthread_mutex_t *restrict m,
			   const struct timespec *restrict until)
{
	clockid_t id = c->__data.__wrefs & 2 ? CLOCK_MONOTONIC : CLOCK_REALTIME;
	return pthread_cond_clockwait(c, m, id, until);
}
