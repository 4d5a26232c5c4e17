#ifndef BANDCENSUS_TOOLS_PLAN_RECEIVER_H
#define BANDCENSUS_TOOLS_PLAN_RECEIVER_H

#include <stdbool.h>
#include <stdint.h>

#include "dsp/band.h"
#include "store/fault.h"

#define STEPS_MAX   8
#define CHOICES_MAX 12
#define REACHES_MAX 32
#define BIRDIES_MAX 64
#define IFS_MAX     4

/* A stretch the receiver can tune, and how. */
struct reach {
	struct freq low, high;
	unsigned    modes;              /* bit 1 << enum mode                   */
	struct freq step[STEPS_MAX];    /* ascending                            */
	int         steps;
};

/* Presses that an entry takes besides its digits and the decimal point. A press is counted
 * only where the line differs from the one before, but enter always. */
struct keypad {
	int enter, mode, step, delay, lockout, priority;
	int slot, clear;        /* to a slot that does not follow; to empty one  */
};

/* All the shelf receiver can and cannot do. */
struct receiver {
	char         name[64];
	struct reach reach[REACHES_MAX];        /* ascending, never overlapping */
	int          reaches;
	struct freq  landing_base;      /* frequencies are base + whole steps   */
	int          banks, memories;   /* memories: in each bank               */
	int          live_per_bank;     /* scanned at most                      */
	int          empty_per_bank;    /* left for what the listener finds     */
	int          search_ranges;
	int          ranges_free;       /* of these, left for the listener      */
	double       scan_rate, slow_rate;      /* channels a second; slow 0: no such */
	int64_t      delay_us[CHOICES_MAX];     /* that can be set, ascending; none: no delay */
	int          delays;
	bool         delay_zero;        /* delay can be switched off            */
	int          priorities;        /* priority channels                    */
	double       priority_s;        /* from one look at such to the next    */
	double       attenuator_db;     /* 0: none                              */
	double       filter_hz[MODE_COUNT];     /* between its 6 dB points      */
	int          display_digits;    /* behind the decimal point of MHz      */
	struct freq  birdie[BIRDIES_MAX];       /* that it makes itself         */
	int          birdies;
	struct freq  first_if[IFS_MAX]; /* images lie twice one of these away   */
	int          ifs;
	struct keypad keypad;
};

/* Reads a profile (kind = "receiver"). -1 with FILE:LINE in why. */
int receiver_read(const char *path, struct receiver *out, struct fault *why);

/* The stretch that holds f and knows the mode, or NULL. */
const struct reach *receiver_reach(const struct receiver *r, struct freq f, enum mode mode);

/* The shortest delay not below s seconds, else the longest; 0 when s is 0 or
 * there is none. */
int64_t receiver_delay(const struct receiver *r, double s);

#endif
