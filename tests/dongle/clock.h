#ifndef BANDCENSUS_TESTS_DONGLE_CLOCK_H
#define BANDCENSUS_TESTS_DONGLE_CLOCK_H

#include "tests/dongle/state.h"

/* The shared clock within a process that the module is loaded into. The C
 * library's clocks and waits are replaced: they show the shared clock, and a wait
 * of 2 s or more for descriptors none of which is ready, or a sleep of about a
 * second or more, passes at once. */

/* The state this process takes part in; NULL: none, and all clocks are real. */
struct state *clock_state(void);
const char *clock_town(void);           /* a file to read it from, while this process lives; "": none */

/* The same, after mapping what DONGLE_SCENARIO names now, if it is another. What
 * was mapped before stays so. */
struct state *clock_join(void);

/* This process is up: it may wait for others. */
void clock_settled(void);

/* Something is going on: no leap for a moment. */
void clock_busy(void);

/* Real time, whatever the caller's clocks show. */
void clock_sleep_real_us(int64_t us);

/* A stretch of the shared clock in real time, at least 1 us. */
int64_t clock_real_us(const struct state *s, int64_t shared_us);

/* While a thread hands out what fell due earlier, its clocks show that time; only
 * its own waits set it on, at most up to the present. So a busy machine counts for
 * nothing. 0: the present again. */
void clock_show_us(int64_t us);
int64_t clock_shown_us(const struct state *s);

/* Sets the shared clock on to when the next samples come, if the scenario hastens
 * and all others wait for them. */
bool clock_hasten(struct state *s, int64_t to_us);

/* A wait on the shared clock, in pieces of real time. */
struct wait {
	int64_t until_us, began_us, began_real_us;
	int64_t grace_us;               /* real time before it may leap; -1: never */
};

struct wait clock_wait_of(struct state *s, int64_t until_us, int64_t grace_us);

/* How long to wait really now, in real us; 0: it is over. */
int64_t clock_wait_us(const struct wait *w);

/* It is over. */
void clock_waited(const struct wait *w);

#endif
