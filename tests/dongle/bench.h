#ifndef BANDCENSUS_TESTS_DONGLE_BENCH_H
#define BANDCENSUS_TESTS_DONGLE_BENCH_H

#include <pthread.h>
#include <rtl-sdr.h>

#include "tests/dongle/scene.h"

/* Of real time, at the most, for what comes in a moment: only a hang lasts for so long. */
#define BENCH_PATIENCE_S 60

/* The real dongle library's handle on the first emulated dongle, in a scene of its
 * own, and a thread that reads it. */
struct bench {
	struct scene         scene;
	struct device_state *device;
	rtlsdr_dev_t        *dev;
	pthread_t            reader;
	bool                 reads;     /* that thread was started, and not yet joined */
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

/* For cmocka, which leaves a test that fails in its midst: *state is a bench, of which nothing
 * reads any more when the next test begins. */
#define bench_test(test) cmocka_unit_test_setup_teardown(test, bench_make, bench_drop)
int bench_make(void **state);
int bench_drop(void **state);

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

/* Cancels until it is taken, and waits for the reader to return. */
void bench_stop(struct bench *b);
void bench_join(struct bench *b);       /* has returned, or does now */

void bench_close(struct bench *b);

/* Control transfers since then, all and on the tuner's bus. */
struct transfers {
	int64_t all, i2c;
};

struct transfers bench_transfers(const struct bench *b);

#endif
