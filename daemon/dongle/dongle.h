#ifndef BANDCENSUS_DAEMON_DONGLE_DONGLE_H
#define BANDCENSUS_DAEMON_DONGLE_DONGLE_H

#include "daemon/dongle/ring.h"
#include "daemon/source.h"

/* One receiver on the USB, from finding to closing; once a call failed it is only
 * good for closing. Any call may hang in the library for ever: this is for a
 * process that can be killed. One owner, one thread, besides the one that fills
 * the ring. */
struct dongle;

/* Bytes of a transfer, and so of a slot of the ring: what is stale is counted in
 * those. */
#define DONGLE_DELIVERY 8192

/* No tuner goes higher, and hertz up to there, off by 500 ppm, fit into 32 bits. */
#define DONGLE_MHZ_MOST 2145

struct dongle_facts {
	char    name[80];       /* for faults: "dongle 00000001"             */
	char    serial[64];     /* "" when it has none or shares it          */
	char    tuner[16];      /* "R820T"                                   */
	int32_t low_mhz, high_mhz;
	struct gain_steps gains;        /* as the library has them               */
};

/* What the library is asked for; its own ppm correction is left at 0. */
struct dongle_settings {
	int32_t rate_hz, centre_hz, gain_tenth_db;
};

enum dongle_by {
	DONGLE_BY_NAME,         /* a serial, else an index, or "" for the only one */
	DONGLE_BY_SERIAL        /* a serial alone                                  */
};

enum dongle_result {
	DONGLE_FAULT = -1,      /* why is filled                                       */
	DONGLE_DONE = 0,
	DONGLE_DEAF = 1         /* the synthesiser did not lock: it stands nobody knows where */
};

/* Looks first whether it is there: the library leaks when it opens an absent
 * one. NULL with why filled. Up to 25 s when it is there but does not answer. */
struct dongle *dongle_open(const char *arg, enum dongle_by by, bool bias_tee, struct fault *why);

const struct dongle_facts *dongle_facts(const struct dongle *d);        /* owned by d */

/* Sets what differs from the last time, all of it the first time, and the centre
 * always: a retune is that one call. */
enum dongle_result dongle_set(struct dongle *d, const struct dongle_settings *to, struct fault *why);

/* From now on its samples go into ring, which is borrowed until dongle_close
 * said true. Tries first, for a fraction of a second, whether any get lost at this
 * rate; what the ring holds then is no signal. */
int dongle_start(struct dongle *d, struct ring *ring, struct fault *why);

/* false: its reader hangs in the library. Closing under it would never return,
 * and freeing what the kernel may still write to is worse, so d and its ring are
 * left as they are and the process has to end. NULL is fine. */
bool dongle_close(struct dongle *d);

#endif
