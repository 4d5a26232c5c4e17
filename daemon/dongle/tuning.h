#ifndef BANDCENSUS_DAEMON_DONGLE_TUNING_H
#define BANDCENSUS_DAEMON_DONGLE_TUNING_H

#include "daemon/dongle/dongle.h"

/* From a tuning to what the library is asked for, and back to where the tuner
 * then truly stands. Pure. */

/* What one with these facts can't do is refused (FAULT_INPUT): the library would
 * take some of it without a word. */
int dongle_check(const struct dongle_facts *facts, const struct tuning *to, struct fault *why);

/* The centre asked for is the one whose true landing is nearest to what is wanted:
 * the library's own correction stays 0, for it goes in whole ppm and costs three
 * times a retune. */
struct dongle_settings dongle_settings_for(const struct dongle_facts *facts, const struct tuning *to);

/* With a crystal that is off by ppm. */
struct freq dongle_stands_at(const struct dongle_facts *facts, const struct dongle_settings *s,
			     double ppm);

bool dongle_settings_same(const struct dongle_settings *a, const struct dongle_settings *b);

#endif
