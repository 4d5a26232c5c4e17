#ifndef BANDCENSUS_TESTS_DONGLE_BENCH_H
#define BANDCENSUS_TESTS_DONGLE_BENCH_H

#include <pthread.h>
#include <rtl-sdr.h>

#include "tests/dongle/scene.h"

/* The real dongle library's handle on the first emulated dongle, in a scene of its
 * own, and a thread that reads it. */
struct bench {
	struct scene         scene;
	struct device_state *device;
	rtlsdr_dev_t        *dev;
	pthread_t            reader;
	uint32_t             transfers, length;

	_Atomic int64_t      got;       /* bytes the callback was given             */
	_Atomic int64_t      calls;
	_Atomic int64_t      first_us, last_us; /* the clock as those calls saw it */
	_Atomic int64_t      first_n, shortest; /* bytes of the first call, and of the shortest */
	_Atomic int64_t      nap_us;    /* real time that the next call takes       */
	_Atomic int64_t      ended;     /* 1 once the reader returned ...           */
	int                  result;    /* ... that                                 */

	uint8_t             *kept;      /* bytes from some call on, up to room      */
	int64_t              room;
	_Atomic int64_t      n_kept;
	_Atomic int64_t      kept_us;   /* when the first of them was received      */
	_Atomic bool         keeping;
};

/* Opens it; expects the call to return `expected`. */
void bench_open(struct bench *b, const struct scenario *s, int expected);

/* The usual settings: 2.4 MS/s, manual gain of 29.7 dB, 155 MHz. */
void bench_set(struct bench *b);

/* Starts the reader. */
void bench_read(struct bench *b, uint32_t transfers, uint32_t length);

/* Keeps n bytes from the next call on. Waits for them with bench_kept. */
void bench_keep(struct bench *b, int64_t n);
void bench_kept(struct bench *b);

/* Waits until the reader is up to date. */
void bench_catch_up(struct bench *b);

/* Cancels until it is taken, and waits for the reader to return within real 5 s. */
void bench_stop(struct bench *b);

void bench_close(struct bench *b);

/* Control transfers since then, all and on the tuner's bus. */
struct transfers {
	int64_t all, i2c;
};

struct transfers bench_transfers(const struct bench *b);

#endif
