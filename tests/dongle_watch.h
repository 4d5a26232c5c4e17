#ifndef BANDCENSUS_TESTS_DONGLE_WATCH_H
#define BANDCENSUS_TESTS_DONGLE_WATCH_H

#include "store/town.h"
#include "tests/dongle/scene.h"

/* One dongle with the town's crystal in it, what befalls the town's befalls it too; as
 * fast as samples can be made. */
struct scenario dongle_in_town(const char *path, const struct town *t, uint64_t seed);

/* Has the built daemon survey with the dongles of a scenario, as a user would, until
 * it ends by itself after `length` ("40 min"). The test fails when it does not end well;
 * then its log is printed. What the first dongle counted is put in out. */
void dongle_watch(const struct scenario *what, const char *settings, const char *survey,
		  const char *length, struct counters *out);

#endif
