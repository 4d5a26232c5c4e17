#ifndef BANDCENSUS_DAEMON_DONGLE_IDENTITY_H
#define BANDCENSUS_DAEMON_DONGLE_IDENTITY_H

#include "daemon/dongle/dongle.h"

/* Which dongle it is: what it is called, and what it is found by when it was away. */
struct identity {
	char           name[80];        /* for faults: "dongle 00000001"             */
	char           label[128];      /* with its tuner, once it was met           */
	char           arg[64];         /* to find it by                             */
	enum dongle_by by;
};

/* As it was asked for; "": any. */
struct identity identity_asked(const char *arg);

/* It was met: from now on only the same will do, as far as it has a serial. */
void identity_met(struct identity *i, const struct dongle_facts *facts);

#endif
