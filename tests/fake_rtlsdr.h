#ifndef BANDCENSUS_TESTS_FAKE_RTLSDR_H
#define BANDCENSUS_TESTS_FAKE_RTLSDR_H

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

/* Stands in for the dongle library: the functions our source calls, with the
 * habits that matter (silent open without a tuner, lost cancels, hanging reader). */
struct fake_rtlsdr {
	/* what it is */
	int         count;
	const char *serial[4];
	int         strings_result, open_result;
	int         tuner;              /* the library's number; 5 is an R820T         */
	const char *refuse;             /* the setter that fails ...                   */
	int         refuse_times, refuse_code;
	int         lost_cancels;       /* so many are not taken                       */
	int         deliveries;         /* so many each time it is opened, then silence */
	bool        vanish;             /* after them the reader returns               */
	bool        unplug;             /* ... and it is on the list no more           */
	bool        hang;               /* the reader never returns, cancelled or not  */

	/* what was done to it */
	char            log[2000];      /* "open 0;bias 0;ppm 3;..."                   */
	pthread_mutex_t lock;
	bool            running, cancelled;
	int             delivered;
	int             opened;         /* times; each has a handle of its own         */
	char            handle[64];
	bool            dead;           /* the present handle: every call gives -4     */
	bool            misused;        /* an absent one opened, a closed handle used, two open at once */
};

/* The library's functions know no context, so there is one of these, reset by
 * each test. */
extern struct fake_rtlsdr fake;

/* One R820T with serial 00000001 that does all it should. */
void fake_reset(void);

#endif
