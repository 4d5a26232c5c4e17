#ifndef BANDCENSUS_DAEMON_DONGLE_CHOOSE_H
#define BANDCENSUS_DAEMON_DONGLE_CHOOSE_H

#include "daemon/dongle/dongle.h"

#define DONGLES_MAX 32

/* What is plugged in, by the library's index. Pure. */
struct dongles {
	int  count;                     /* no more than DONGLES_MAX                       */
	char serial[DONGLES_MAX][64];   /* "" when it has none, or would not say          */
	int  refused;                   /* the USB code of one that would not say, or 0   */
};

/* The index of the one that arg means; -1 with why when it is none or several.
 * A serial goes before an index. */
int dongle_choose(const struct dongles *all, const char *arg, enum dongle_by by, struct fault *why);

/* How many have this serial, the last of them in *match. */
int dongles_with(const struct dongles *all, const char *serial, int *match);

#endif
