#ifndef BANDCENSUS_TESTS_DONGLE_ASLEEP_H
#define BANDCENSUS_TESTS_DONGLE_ASLEEP_H

#include "tests/dongle/state.h"

/* Whether anybody in a scenario has something to do, as the kernel sees it: a thread
 * that waits is asleep until it is woken, and from the waker's call on it is not. */

/* The calling thread is one to ask about; it is about to wait. */
void asleep_note(struct state *s);

/* All other threads noted sleep. */
bool asleep_others(struct state *s);

#endif
