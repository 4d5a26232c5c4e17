#include "daemon/clock.h"

#include <poll.h>
#include <stddef.h>
#include <time.h>

static int64_t now_us(void *self)
{
	struct timespec t;

	(void)self;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* Signals are let in only while it sleeps, or one that comes between the look at
 * stop and the sleep would be slept through. */
static void wait_for(void *self, const int *descriptors, int n, int64_t until_us,
		     const volatile sig_atomic_t *stop)
{
	struct pollfd fds[CLOCK_DESCRIPTORS];
	int64_t us = until_us - now_us(self);
	struct timespec left = { us > 0 ? (time_t)(us / 1000000) : 0,
				 us > 0 ? (long)(us % 1000000 * 1000) : 0 };
	sigset_t all, old;

	n = n < CLOCK_DESCRIPTORS ? n : CLOCK_DESCRIPTORS;
	for (int i = 0; i < n; i++)
		fds[i] = (struct pollfd){ .fd = descriptors[i], .events = POLLIN };
	sigfillset(&all);
	sigprocmask(SIG_BLOCK, &all, &old);
	if (!*stop)
		ppoll(fds, (nfds_t)n, &left, &old);
	sigprocmask(SIG_SETMASK, &old, NULL);
}

const struct clock clock_of_computer = { .now_us = now_us, .wait = wait_for };
