#ifndef BANDCENSUS_DAEMON_CLOCK_H
#define BANDCENSUS_DAEMON_CLOCK_H

#include <signal.h>
#include <stdint.h>

/* What live sources are waited for by. A test brings its own. */
struct clock {
	void *self;

	/* The clock that is never stepped, in microseconds: that of a block's mono_us. */
	int64_t (*now_us)(void *self);

	/* Until then, or until one of the descriptors is readable, or a signal comes
	 * in, also one that came just before and set stop. */
	void (*wait)(void *self, const int *descriptors, int n, int64_t until_us,
		     const volatile sig_atomic_t *stop);
};

#define CLOCK_DESCRIPTORS 16    /* so many at the most */

/* The computer's. */
extern const struct clock clock_of_computer;

#endif
