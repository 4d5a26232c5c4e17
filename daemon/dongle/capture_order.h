#ifndef BANDCENSUS_DAEMON_DONGLE_CAPTURE_ORDER_H
#define BANDCENSUS_DAEMON_DONGLE_CAPTURE_ORDER_H

#include "daemon/dongle/dongle.h"

/* What passes between the daemon and the process that reads a dongle for it:
 * orders one way, one answer to each the other way, each a message of fixed size. */

/* The first argument that makes a program such a process, and the descriptors
 * that it then finds open. */
#define CAPTURE_OPTION "--capture"

enum capture_descriptor {
	CAPTURE_SOCKET = 3,
	CAPTURE_MEMORY,                 /* of the ring, and ... */
	CAPTURE_BELL,                   /* ... its bell         */
	CAPTURE_FREE                    /* from here on none    */
};

enum capture_verb {
	CAPTURE_OPEN = 1,               /* arg, by, bias_tee; answered with facts         */
	CAPTURE_SET,                    /* settings; answered with deaf, put, at_us       */
	CAPTURE_STOP                    /* answered by ending, as is the daemon's own end */
};

struct capture_order {
	uint32_t               number;  /* of the order; the answer carries the same      */
	uint32_t               verb;
	char                   arg[64];
	uint32_t               by;      /* enum dongle_by                                 */
	uint32_t               bias_tee;
	struct dongle_settings settings;
};

struct capture_answer {
	uint32_t            number;
	struct fault        why;        /* kind FAULT_NONE: done                          */
	struct dongle_facts facts;
	uint32_t            deaf;       /* the synthesiser did not lock                   */
	uint32_t            bare;       /* enum walls_missing: of the walls around it     */
	int64_t             put;        /* bytes put into the ring when it was done ...   */
	int64_t             at_us;      /* ... and the time, on the clock never stepped   */
};

#endif
