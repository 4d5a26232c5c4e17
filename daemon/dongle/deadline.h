#ifndef BANDCENSUS_DAEMON_DONGLE_DEADLINE_H
#define BANDCENSUS_DAEMON_DONGLE_DEADLINE_H

#include <stdbool.h>
#include <stdint.h>

/* A moment on the clock that is never stepped, with a descriptor that is readable
 * once it has passed. */
struct deadline {
	int     timer;          /* the descriptor; -1: none */
	int64_t at_us;
};

int deadline_open(struct deadline *d);  /* -1 with errno */
void deadline_close(struct deadline *d);
void deadline_set(struct deadline *d, int64_t at_us);
void deadline_never(struct deadline *d);
bool deadline_passed(const struct deadline *d);

#endif
