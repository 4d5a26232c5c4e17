#ifndef BANDCENSUS_TESTS_FAKE_RTLSDR_H
#define BANDCENSUS_TESTS_FAKE_RTLSDR_H

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>

#include "tests/test.h"

/* Stands in for the dongle library: the functions our source calls, with the
 * habits that matter (silent open without a tuner, lost cancels, hanging calls, locks
 * that fail with a word on stderr alone). The test program runs again as the process
 * that reads the dongle; what is here is in memory that both see. */

#define FAKE_TURNS 16
#define FAKE_BYTES 16384                /* of a delivery */

/* What comes from at_us on: bytes of this value. */
struct fake_turn { int64_t at_us; uint8_t value; };

struct fake_rtlsdr {
	/* what it is */
	int     count;
	char    serial[4][64];
	int     strings_result, open_result;
	int     tuner;                  /* the library's number; 5 is an R820T         */
	char    refuse[16];             /* the setter that fails ...                   */
	int     refuse_times, refuse_code;
	char    hang_in[16];            /* the call that never returns                 */
	char    crash_in[16];           /* ... or dies                                 */
	int     unlocked_mhz;           /* there the synthesiser does not lock         */
	int     lost_cancels;           /* so many are not taken                       */
	int     deliveries;             /* so many each time it is opened, then silence */
	int     stride;                 /* of the counter in test mode: 1, or it loses */
	int     lag;                    /* deliveries held back and handed over at once */
	bool    vanish;                 /* after them the reader returns               */
	bool    unplug;                 /* ... and it is on the list no more           */
	bool    hang;                   /* the reader never returns, cancelled or not  */

	/* what was done to it */
	char            log[4000];      /* "open 0;bias 0;ppm 3;..."                   */
	pthread_mutex_t lock;
	bool            running, cancelled, testing;
	uint8_t         counter;
	int             delivered;
	int             opened;         /* times, and closed; each has a handle of its own */
	pid_t           owner;
	char            handle[64];
	bool            dead;           /* the present handle: every call gives -4     */
	bool            misused;        /* an absent one opened, a closed handle used, two open at once */
	struct fake_turn turn[FAKE_TURNS];
	int             turns;
};

extern struct fake_rtlsdr *fake;

/* What main does: runs the tests, or, in a process of theirs that reads the dongle, that. */
int fake_run(int argc, char **argv, const struct CMUnitTest *tests, size_t n);

/* One R820T with serial 00000001 that does all it should. */
void fake_reset(void);

/* Forgets what was done so far. */
void fake_forget(void);

/* What its bytes are while it stands at hz: never what they are while it is tuned. */
uint8_t fake_value(int64_t hz);

#endif
