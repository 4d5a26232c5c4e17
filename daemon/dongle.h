#ifndef BANDCENSUS_DAEMON_DONGLE_H
#define BANDCENSUS_DAEMON_DONGLE_H

#include "daemon/ring.h"
#include "daemon/source.h"

/* One receiver on the USB, from finding to closing; once a call failed with
 * FAULT_RETRY it is only good for closing. One owner, one thread, besides the
 * one that fills the ring. */
struct dongle;

struct dongle_facts {
	char        name[80];   /* for faults: "dongle 00000001"             */
	char        serial[64]; /* "" when it has none or shares it          */
	const char *tuner;      /* "R820T"                                   */
};

enum dongle_by {
	DONGLE_BY_NAME,         /* a serial, else an index, or "" for the only one */
	DONGLE_BY_SERIAL        /* a serial alone                                  */
};

/* Looks first whether it is there: the library leaks when it opens an absent
 * one. NULL with why filled. Up to 25 s when it is there but does not answer. */
struct dongle *dongle_open(const char *arg, enum dongle_by by, struct fault *why);

const struct dongle_facts *dongle_facts(const struct dongle *d);        /* owned by d */

/* What it can't do is refused (FAULT_INPUT) before it is asked: the library
 * would take some of it without a word. */
int dongle_check(const struct dongle *d, const struct tuning *to, struct fault *why);

/* Sets what differs from the last time, all of it the first time, and says where
 * the tuner then truly is. 1 when anything was set, 0 when nothing had to be. */
int dongle_set(struct dongle *d, const struct tuning *to, struct freq *centre, struct fault *why);

/* From now on its samples go into ring, which is borrowed until dongle_close
 * said true. Waits for the first ones. */
int dongle_start(struct dongle *d, struct ring *ring, struct fault *why);

/* false: its reader hangs in the library. Closing under it would never return,
 * and freeing what the kernel may still write to is worse, so d and its ring are
 * left as they are until the process ends. NULL is fine. */
bool dongle_close(struct dongle *d);

#endif
