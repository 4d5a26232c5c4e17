#include "tests/test.h"

#include "tests/dongle/bench.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define CANCELS     6000        /* 10 ms each                */
#define BEHIND_US   200000      /* is up to date              */

int bench_make(void **state)
{
	*state = calloc(1, sizeof(struct bench));
	return *state ? 0 : -1;
}

/* Takes the reader out of the library. */
static bool cancel(struct bench *b)
{
	for (int i = 0; i < CANCELS && rtlsdr_cancel_async(b->dev) != 0 && !b->ended; i++)
		scene_reaches(&b->ended, 1, 0.01);
	return scene_reaches(&b->ended, 1, BENCH_PATIENCE_S);
}

/* One that can't be stopped keeps what it writes to. */
int bench_drop(void **state)
{
	struct bench *b = *state;

	if (b->reads && !cancel(b))
		return -1;
	if (b->reads)
		bench_join(b);
	if (b->scene.state)
		bench_close(b);
	free(b);
	return 0;
}

void bench_open(struct bench *b, const struct scenario *s, int expected)
{
	memset(b, 0, sizeof *b);
	scene_begin(&b->scene, s);
	b->device = &b->scene.state->dongles[0];
	assert_int_equal(rtlsdr_open(&b->dev, 0), expected);
	if (expected < 0)
		b->dev = NULL;
}

void bench_set(struct bench *b)
{
	assert_int_equal(rtlsdr_set_sample_rate(b->dev, 2400000), 0);
	assert_int_equal(rtlsdr_set_tuner_gain_mode(b->dev, 1), 0);
	assert_int_equal(rtlsdr_set_tuner_gain(b->dev, 297), 0);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 155000000), 0);
	assert_int_equal(rtlsdr_reset_buffer(b->dev), 0);
}

static void deliver(unsigned char *bytes, uint32_t n, void *self)
{
	struct bench *b = self;
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	b->last_us = (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
	if (b->keeping) {
		int64_t more = b->room - b->n_kept < n ? b->room - b->n_kept : n;
		if (b->n_kept == 0)
			b->kept_us = b->last_us - llround(n * 0.5e6 / b->device->now.rate_hz);
		memcpy(b->kept + b->n_kept, bytes, (size_t)more);
		b->n_kept += more;
	}
	if (b->calls == 0) {
		b->first_us = (int64_t)b->last_us;
		b->first_n = b->shortest = n;
	}
	b->shortest = n < b->shortest ? n : b->shortest;
	b->got += n;
	b->calls++;
	for (int64_t nap = atomic_exchange(&b->nap_us, 0); nap > 0; nap -= 50000)
		usleep((useconds_t)(nap < 50000 ? nap : 50000));
}

static void *run(void *self)
{
	struct bench *b = self;

	b->result = rtlsdr_read_async(b->dev, deliver, b, b->transfers, b->length);
	b->ended = 1;
	return NULL;
}

void bench_keep(struct bench *b, int64_t n)
{
	b->keeping = false;     /* ... and out of the callback for sure */
	assert_true(scene_reaches(&b->calls, b->calls + 1, BENCH_PATIENCE_S));
	free(b->kept);
	b->kept = calloc(1, (size_t)n);
	assert_non_null(b->kept);
	b->room = n;
	b->n_kept = 0;
	b->keeping = true;
}

void bench_kept(struct bench *b)
{
	assert_true(scene_reaches(&b->n_kept, b->room, BENCH_PATIENCE_S));
}

void bench_catch_up(struct bench *b)
{
	int64_t until = state_real_us() + BENCH_PATIENCE_S * INT64_C(1000000);

	while (state_now_us(b->scene.state) - b->device->served_us > BEHIND_US) {
		assert_true(state_real_us() < until);
		scene_reaches(&b->ended, 1, 0.005);
	}
}

void bench_read(struct bench *b, uint32_t transfers, uint32_t length)
{
	b->transfers = transfers;
	b->length = length;
	b->got = b->calls = b->ended = 0;
	assert_int_equal(pthread_create(&b->reader, NULL, run, b), 0);
	b->reads = true;
}

void bench_stop(struct bench *b)
{
	assert_true(cancel(b));
	bench_join(b);
}

void bench_join(struct bench *b)
{
	pthread_join(b->reader, NULL);
	b->reads = false;
}

void bench_close(struct bench *b)
{
	if (b->dev)
		rtlsdr_close(b->dev);
	free(b->kept);
	scene_end(&b->scene);
}

struct transfers bench_transfers(const struct bench *b)
{
	return (struct transfers){ b->device->count.controls, b->device->count.i2c };
}
