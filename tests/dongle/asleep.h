#ifndef BANDCENSUS_TESTS_DONGLE_ASLEEP_H
#define BANDCENSUS_TESTS_DONGLE_ASLEEP_H

#include "tests/dongle/state.h"

/* Whether anybody in a scenario has something to do, as the kernel sees it: a thread
 * that waits is asleep until it is woken, and from the waker's call on it is not. */

/* The calling thread is one to ask about; it is about to wait, or still does. */
void asleep_note(struct state *s);

/* How long ago, really, the slowest thread of that process was last seen waiting: it
 * hangs, if that is long. */
double asleep_away_s(const struct state *s, int32_t process);

/* All other threads noted sleep. */
bool asleep_others(struct state *s);

#endif
