#ifndef BANDCENSUS_TESTS_DONGLE_STATE_H
#define BANDCENSUS_TESTS_DONGLE_STATE_H

#include <stdatomic.h>

#include "tests/dongle/chip.h"
#include "tests/dongle/scenario.h"
#include "tests/dongle/tuner.h"

/* What all processes of a scenario share, in a mapped file: it outlives each of
 * them, and tests read it from outside. A device is written to by whoever claimed
 * it; times are microseconds of the shared clock. */

#define STATE_MAGIC  0x646f6e67
#define STARTING_MOST 16
#define THREADS_MOST  16

struct counters {
	_Atomic int64_t opens, claims, closes, resets;
	_Atomic int64_t controls;       /* control transfers ...                     */
	_Atomic int64_t i2c;            /* ... of them on the tuner's bus            */
	_Atomic int64_t failed;         /* ... of them ended with an error           */
	_Atomic int64_t retunes;        /* times the synthesiser was set             */
	_Atomic int64_t transfers;      /* of samples, completed in any way          */
	_Atomic int64_t bytes;          /* given to the host                         */
	_Atomic int64_t lost_bytes;     /* that no transfer was there for            */
	_Atomic int64_t dropped_bytes;  /* by mischief                               */
	_Atomic int64_t skipped_bytes;  /* given, but not worked out: a leap's       */
	_Atomic int64_t cancels;
	_Atomic int64_t freed_in_flight;
};

/* What the registers say now. */
struct reception {
	double lo_hz, if_hz, rate_hz;   /* as a faultless crystal would have them    */
	double gain_db;
	bool   locked, upright, counting, running;
};

struct device_state {
	_Atomic int32_t  owner;         /* process that claimed it; 0: nobody        */
	_Atomic uint32_t generation;    /* times it went off the bus                 */
	uint32_t         powered;       /* its generation when its registers were reset */
	_Atomic bool     detached;      /* the kernel's driver has let it go         */
	struct chip      chip;
	struct tuner     tuner;
	struct reception now;           /* whoever claimed it, under its pipe's lock */
	_Atomic bool     counting, running;     /* of now, for all others            */
	_Atomic int64_t  served_us;     /* the stream has been handed out up to here */
	_Atomic int32_t  in_flight;     /* transfers submitted                       */
	_Atomic int32_t  working;       /* process with a control transfer under way */
	struct counters  count;
};

struct mischief_state {
	_Atomic int64_t began_us;       /* 0: not yet                                */
	_Atomic int64_t used;
};

struct state {
	uint32_t              magic;
	struct scenario       scenario;
	int64_t               began_us; /* real monotonic time when it was created   */
	int64_t               utc_us;   /* UTC then                                  */
	int64_t               night_us; /* the town's time then                      */
	_Atomic int64_t       leap_us;  /* how far the shared clock was set on       */
	_Atomic int64_t       leaps;
	_Atomic int64_t       hastened_us;      /* of that, to when samples came       */
	_Atomic int64_t       leapt_from_us, leapt_to_us;       /* the last one      */
	_Atomic int64_t       busy_real_us;     /* of the last control transfer      */
	_Atomic int32_t       starting[STARTING_MOST];  /* processes that are not yet up ... */
	_Atomic int64_t       started_us[STARTING_MOST]; /* ... since then, real time   */
	_Atomic int32_t       threads[THREADS_MOST];    /* that waited once; 0: none  */
	_Atomic int32_t       process_of[THREADS_MOST];
	_Atomic int64_t       waited_us[THREADS_MOST];  /* last seen waiting, real time    */
	_Atomic int32_t       leaping;          /* process in a wait that may pass at once */
	struct mischief_state mischief[MISCHIEF_MOST];
	struct device_state   dongles[DONGLES_MOST];
};

/* Creates the file. NULL with why filled. Owned until state_unmap. */
struct state *state_create(const char *path, const struct scenario *s, struct fault *why);

/* An existing one; NULL: there is none. */
struct state *state_map(const char *path);
void state_unmap(struct state *s);      /* NULL is fine; the file stays */

/* Real monotonic time, whatever is in the way. */
int64_t state_real_us(void);

/* The shared clock, as monotonic time. */
int64_t state_now_us(const struct state *s);
double state_elapsed_s(const struct state *s);          /* since the beginning */

/* UTC at a time of the shared clock, steps included. */
int64_t state_utc_us(struct state *s, int64_t at_us);

/* Sets the shared clock on to a time, never back; or by so much. A leap is one that
 * nobody listened to meanwhile. */
void state_leap_to(struct state *s, int64_t us);
void state_hasten_to(struct state *s, int64_t us);
void state_spend(struct state *s, int64_t us);

/* How far a crystal is off, in parts per million. */
double state_crystal_ppm(const struct state *s, int dongle, int64_t at_us);

/* Where the tuner of a dongle truly is now, in Hz. */
double state_true_centre_hz(const struct state *s, int dongle);

/* The mischief of that kind under way, or NULL; begins what is due. */
const struct mischief *mischief_now(struct state *s, int dongle, enum mischief_kind kind);

/* The same, and counts it as done once more. */
const struct mischief *mischief_use(struct state *s, int dongle, enum mischief_kind kind);

#endif
