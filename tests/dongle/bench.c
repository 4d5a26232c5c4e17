#include "tests/test.h"

#include "tests/dongle/bench.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

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
	int64_t got = b->got, keep = b->room - got < n ? b->room - got : n;
	struct timespec t;

	if (keep > 0)
		memcpy(b->kept + got, bytes, (size_t)keep);
	clock_gettime(CLOCK_MONOTONIC, &t);
	b->last_us = (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
	b->got += n;
	b->calls++;
}

static void *run(void *self)
{
	struct bench *b = self;

	b->result = rtlsdr_read_async(b->dev, deliver, b, b->transfers, b->length);
	b->ended = 1;
	return NULL;
}

void bench_read(struct bench *b, uint32_t transfers, uint32_t length, int64_t keep)
{
	free(b->kept);
	b->kept = keep > 0 ? calloc(1, (size_t)keep) : NULL;
	assert_true(keep == 0 || b->kept);
	b->room = keep;
	b->transfers = transfers;
	b->length = length;
	b->got = b->calls = b->ended = 0;
	assert_int_equal(pthread_create(&b->reader, NULL, run, b), 0);
}

void bench_stop(struct bench *b)
{
	for (int i = 0; i < 500 && rtlsdr_cancel_async(b->dev) != 0 && !b->ended; i++)
		scene_reaches(&b->ended, 1, 0.01);
	assert_true(scene_reaches(&b->ended, 1, 5));
	pthread_join(b->reader, NULL);
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
