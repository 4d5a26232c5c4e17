#ifndef BANDCENSUS_TESTS_DONGLE_WATCH_H
#define BANDCENSUS_TESTS_DONGLE_WATCH_H

#include "tests/dongle/scene.h"

/* Has the built daemon survey with the dongles of a scenario, as a user would, until
 * it ends by itself after `length` ("40 min"). The test fails when it does not end well;
 * then its log is printed. What the first dongle counted is put in out. */
void dongle_watch(const struct scenario *what, const char *settings, const char *survey,
		  const char *length, struct counters *out);

#endif
