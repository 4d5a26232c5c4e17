#ifndef BANDCENSUS_TESTS_DONGLE_SCENARIO_H
#define BANDCENSUS_TESTS_DONGLE_SCENARIO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "store/fault.h"

/* What the emulated dongles are and what goes wrong with them. As text it is one
 * "word value" a line, # for remarks; "dongle SERIAL" adds one and "mischief KIND"
 * a fault, and the words after them are about that one. */

#define DONGLES_MOST  4
#define MISCHIEF_MOST 24

enum mischief_kind {
	MISCHIEF_VANISH = 1,    /* off the bus; comes back last in the list, old handles dead */
	MISCHIEF_SILENCE,       /* transfers never complete                                  */
	MISCHIEF_ERROR,         /* transfers end with an error ...                           */
	MISCHIEF_TIMEOUT,
	MISCHIEF_STALL,
	MISCHIEF_OVERFLOW,
	MISCHIEF_EMPTY,         /* ... or well, with nothing in them,                        */
	MISCHIEF_SHORT,         /* value bytes                                               */
	MISCHIEF_DROP,          /* value bytes are lost before a transfer                    */
	MISCHIEF_UNLOCKED,      /* no lock for a local oscillator set to low to high MHz      */
	MISCHIEF_REFUSED,       /* tuner writes end with a pipe error                        */
	MISCHIEF_MUTE,          /* control transfers time out, 300 ms each                   */
	MISCHIEF_HANG_CONTROL,  /* a control transfer never returns                          */
	MISCHIEF_HANG_EVENTS,   /* handling events never returns                             */
	MISCHIEF_BUSY,          /* somebody else has it                                      */
	MISCHIEF_DRIVER,        /* the kernel's driver has it; lets go when asked to, unless value is 1 */
	MISCHIEF_DENIED,        /* no permission                                             */
	MISCHIEF_LATE_CANCEL,   /* cancelled transfers complete value ms late                */
	MISCHIEF_NO_TUNER,      /* nothing answers behind the gate                           */
	MISCHIEF_DEAF,          /* the tuner hears nothing; with a value, no longer than     */
				/* until it was opened more than so often                */
	MISCHIEF_CLOCK,         /* UTC is stepped by value s                                 */
	MISCHIEF_KINDS
};

enum mischief_when {
	WHEN_TIME = 0,          /* s of the shared clock since the beginning     */
	WHEN_BYTES,             /* bytes the host got                            */
	WHEN_RETUNES,           /* times the synthesiser was set, opening included */
	WHEN_OPENS
};

/* Begins once, when `at` is reached, for all devices or one. */
struct mischief {
	int     kind;
	int     dongle;         /* index in the scenario; -1: whichever           */
	int     when;           /* enum mischief_when                             */
	double  at;
	double  for_s;          /* how long; 0: for good                          */
	int64_t times;          /* after so many it is over; 0: no matter         */
	double  value;
	double  low_mhz, high_mhz;
};

struct scenario_dongle {
	char   serial[32];
	double ppm;             /* the crystal is off by, + is high: for ever ... */
	double cold_ppm;        /* ... and on top of that at first                */
	double warm_ppm;        /* ... and later                                  */
	double warm_up_s;       /* as the town's crystal does it                  */
};

struct scenario {
	char     town[256];             /* its file; "": noise and nothing else   */
	uint64_t seed;
	int64_t  start_us;              /* UTC when it begins; 0: when the night does */
	bool     town_events;           /* the town's lost dongle and clock steps count */
	double   control_us, i2c_us;    /* what a transfer takes of the shared clock */
	double   settle_us;             /* after a retune the synthesiser is elsewhere */
	double   image_db;              /* of what is twice the IF above; 0: none  */
	double   spur_hz, spur_dbfs;    /* a line of the dongle's own, from the centre */
	double   third_dbfs;            /* third-order products would meet their parents there; 0: none */
	bool     leaps;                 /* long waits for nothing pass at once     */
	double   grace_ms;              /* ... after that much real time           */
	bool     hastens;               /* so does the wait for the next samples, when all sleep */
	double   speed;                 /* of the shared clock; 1: as real time    */
	struct scenario_dongle dongles[DONGLES_MOST];
	int      n_dongles;
	struct mischief mischief[MISCHIEF_MOST];
	int      n_mischief;
};

/* One dongle, serial 00000001, that does all it should, with a faultless crystal
 * and no town. */
struct scenario scenario_usual(void);

/* What programs compute counts for a tenth: the clock goes as slowly as that, and is set on
 * to the next samples when all wait for them. So a slow or busy machine hears what a fast
 * one does. */
void scenario_unhurried(struct scenario *s);

/* Adds one; both return what was added, to be filled in further. */
struct scenario_dongle *scenario_dongle(struct scenario *s, const char *serial);
struct mischief *scenario_mischief(struct scenario *s, enum mischief_kind kind);

/* 0, or -1 with FILE:LINE in why. Starts from a usual scenario without dongles. */
int scenario_read(const char *path, struct scenario *out, struct fault *why);
void scenario_write(FILE *f, const struct scenario *s);

#endif
