#include "tests/test.h"

#include <pthread.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/pace.h"
#include "daemon/ring.h"
#include "daemon/stream.h"

#define SECOND 1000000

static void put_text(struct ring *r, const char *text, int64_t at_us)
{
	ring_put(r, (const uint8_t *)text, strlen(text), at_us);
}

static void assert_slot(struct ring *r, const char *text, int64_t first, bool gap, int64_t at_us)
{
	struct slot s;
	assert_int_equal(ring_take(r, 0, &s), RING_SLOT);
	assert_int_equal(s.n, strlen(text));
	assert_memory_equal(s.bytes, text, s.n);
	assert_int_equal(s.first, first);
	assert_int_equal(s.gap, gap);
	assert_int_equal(s.at_us, at_us);
	ring_release(r);
}

static void keeps_order_and_counts_losses(void **state)
{
	struct ring *r = ring_create(3, 4);
	struct slot s;
	(void)state;

	assert_non_null(r);
	assert_int_equal(ring_take(r, 0, &s), RING_LATE);
	put_text(r, "abcdef", 7);               /* more than a slot holds: two */
	put_text(r, "ghi", 8);
	put_text(r, "xyz", 9);                  /* no room */
	assert_int_equal(ring_lost(r), 3);
	assert_slot(r, "abcd", 0, false, 7);
	put_text(r, "jk", 10);
	assert_slot(r, "ef", 4, false, 7);
	assert_slot(r, "ghi", 6, false, 8);
	assert_slot(r, "jk", 12, true, 10);     /* what it lacks is counted in */
	put_text(r, "l", 11);
	assert_slot(r, "l", 14, false, 11);
	ring_destroy(r);
}

static void clear_drops_without_a_gap(void **state)
{
	struct ring *r = ring_create(2, 4);
	(void)state;

	put_text(r, "abcdefghij", 1);           /* two kept, one lost */
	ring_clear(r);
	put_text(r, "kl", 2);
	assert_slot(r, "kl", 10, false, 2);
	ring_destroy(r);
}

static void end_comes_after_what_waits(void **state)
{
	struct ring *r = ring_create(2, 4);
	struct slot s;
	(void)state;

	assert_false(ring_wait_end(r, 0));
	put_text(r, "ab", 1);
	ring_end(r);
	assert_slot(r, "ab", 0, false, 1);
	assert_int_equal(ring_take(r, 60 * SECOND, &s), RING_ENDED);
	assert_true(ring_wait_end(r, 0));
	ring_destroy(r);
}

#define RACED_BYTES (4 << 20)

/* Each byte tells its place in the stream. */
static uint8_t byte_at(int64_t i)
{
	return (uint8_t)((uint64_t)i * 0x9e3779b97f4a7c15u >> 56);
}

static void *put_all(void *self)
{
	struct ring *r = self;
	uint8_t bytes[700];
	size_t n = 1;

	for (int64_t at = 0; at < RACED_BYTES; at += (int64_t)n) {
		n = (n * 37 + 11) % sizeof bytes + 1;
		for (size_t i = 0; i < n; i++)
			bytes[i] = byte_at(at + (int64_t)i);
		ring_put(r, bytes, n, at);
	}
	ring_end(r);
	return NULL;
}

/* Whatever is lost between two threads, what comes is whole and knows its place. */
static void two_threads(void **state)
{
	struct ring *r = ring_create(8, 512);
	pthread_t putter;
	struct slot s;
	int64_t taken = 0, expected = 0, rounds = 0, cleared = 0;
	(void)state;

	assert_int_equal(pthread_create(&putter, NULL, put_all, r), 0);
	while (ring_take(r, 60 * SECOND, &s) == RING_SLOT) {
		if (s.first != expected && !s.gap && !cleared)
			fail_msg("%lld bytes are missing before %lld without a word",
				 (long long)(s.first - expected), (long long)s.first);
		for (size_t i = 0; i < s.n; i++)
			if (s.bytes[i] != byte_at(s.first + (int64_t)i))
				fail_msg("byte %lld is wrong", (long long)s.first + (long long)i);
		taken += (int64_t)s.n;
		expected = s.first + (int64_t)s.n;
		ring_release(r);
		cleared = ++rounds % 97 == 0;
		if (cleared)
			ring_clear(r);
		if (rounds % 1000 == 0)
			sched_yield();
	}
	pthread_join(putter, NULL);
	assert_true(taken > 0);
	assert_true(taken + ring_lost(r) <= RACED_BYTES + 700);
	ring_destroy(r);
}

/* Deliveries of 48 000 bytes are 10 ms at 2.4 MS/s. */
#define RATE   2400000
#define EACH   48000
#define EACH_US 10000

static void pace_is_the_least_late(void **state)
{
	static const int64_t late_us[] = { 3000, 200, 9000, 0, 4000, 8000 };
	struct pace p;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 600; k++) {
		int64_t at_us = 1000 * SECOND + (k + 1) * EACH_US + late_us[k % 6];
		assert_false(pace_feed(&p, (k + 1) * INT64_C(48000), at_us));
	}
	assert_int_equal(pace_at(&p, 0), 1000 * SECOND);
	assert_int_equal(pace_at(&p, 600 * EACH), 1006 * SECOND);
}

static void pace_sees_samples_fall_out(void **state)
{
	struct pace p;
	int seen = 0;
	(void)state;

	pace_reset(&p, RATE);
	for (int k = 0; k < 200; k++)           /* 30 ms go missing after 100 of them */
		seen += pace_feed(&p, (k + 1) * INT64_C(48000),
				  (k + 1) * INT64_C(10000) + (k >= 100 ? 30000 : 0));
	assert_int_equal(seen, 1);
	assert_int_equal(pace_at(&p, 200 * EACH), 2 * SECOND + 30000);
}

static void pace_share_of_ten_seconds(void **state)
{
	struct pace p;
	(void)state;

	pace_reset(&p, RATE);
	assert_true(pace_share(&p, 0, 5 * SECOND) == 1);
	assert_true(pace_share(&p, 1000, 14 * SECOND) == 1);    /* not yet time */
	assert_true(pace_share(&p, 24 * SECOND, 15 * SECOND) == 0.5);
	assert_true(pace_share(&p, 72 * SECOND, 25 * SECOND) == 1);
}

static void pace_does_not_drift_in_a_year(void **state)
{
	struct pace p;
	int64_t year_s = 366 * 86400;
	(void)state;

	pace_reset(&p, 3200000);
	pace_feed(&p, 0, 0);
	assert_int_equal(pace_at(&p, year_s * 6400000), year_s * SECOND);
}

/* A stream whose byte e was received at start_us + e / 4.8; its bytes are 1
 * before change_us and 2 from there on. */
struct air {
	struct stream *stream;
	int64_t        start_us, change_us, sent;
};

static void send(struct air *a, size_t n, int64_t late_us)
{
	static uint8_t bytes[65536];
	int64_t end = a->sent + (int64_t)n;

	for (size_t i = 0; i < n; i++)
		bytes[i] = a->start_us + (a->sent + (int64_t)i) * 10 / 48 < a->change_us ? 1 : 2;
	ring_put(stream_ring(a->stream), bytes, n, a->start_us + end * 10 / 48 + late_us);
	a->sent = end;
}

static struct air air_begin(void)
{
	struct air a = { stream_create("dongle 7"), stream_now_us() - SECOND, 0, 0 };
	assert_non_null(a.stream);
	a.change_us = INT64_MAX;
	stream_rate(a.stream, RATE);
	for (int k = 0; k < 20; k++)
		send(&a, EACH, k % 3 * 2000);
	return a;
}

static const struct {
	const char *why;
	int         late;       /* deliveries that were under way and come in one burst */
} bursts[] = {
	{ "prompt: the one under way is old", 1 },
	{ "the library's thread lagged: all that it held is old", 6 },
};

static void nothing_stale_after_a_retune(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof bursts / sizeof bursts[0]; i++) {
		struct fault why = { 0 };
		struct block b;
		struct air a = air_begin();
		for (int k = 0; k < 20; k++)
			assert_int_equal(stream_read(a.stream, EACH / 2, &b, &why), 0);
		while (a.start_us + a.sent * 10 / 48 + (bursts[i].late + 1) * EACH_US <
		       stream_now_us()) {
			send(&a, EACH, 0);
			assert_int_equal(stream_read(a.stream, EACH / 2, &b, &why), 0);
		}
		int64_t tuned_us = stream_now_us();
		a.change_us = tuned_us + 5000;          /* 1s are of the old tuning or unsettled */
		stream_drop(a.stream, 1, 5000);
		for (int k = 0; k < bursts[i].late; k++)
			send(&a, EACH, (bursts[i].late - k) * EACH_US);
		for (int k = 0; k < 40; k++)
			send(&a, EACH, 0);
		assert_int_equal(stream_read(a.stream, EACH, &b, &why), 0);
		if (memchr(b.iq, 1, 2 * b.n))
			fail_msg("%s: stale samples in the first block", bursts[i].why);
		if (b.mono_us < a.change_us || b.gap)
			fail_msg("%s: stamped %lld us early, gap %d", bursts[i].why,
				 (long long)(a.change_us - b.mono_us), b.gap);
		stream_destroy(a.stream);
	}
}

static void times_count_samples(void **state)
{
	struct air a = air_begin();
	struct fault why = { 0 };
	struct block first, b;
	(void)state;

	assert_int_equal(stream_read(a.stream, 1234, &first, &why), 0);
	int64_t at_us = first.mono_us;
	assert_int_equal(stream_read(a.stream, 24000, &b, &why), 0);
	assert_in_range(b.mono_us - at_us + 1, 514, 516);       /* 1234 samples are 514.2 us */
	assert_int_equal(b.rate_hz, RATE);
	assert_int_equal(b.format, SAMPLE_CU8);
	assert_false(b.gap);
	stream_destroy(a.stream);
}

/* The library may deliver odd lengths; a loss may be odd as well. */
static void i_stays_i(void **state)
{
	struct stream *s = stream_create("dongle 7");
	struct fault why = { 0 };
	struct block b;
	uint8_t iq[999];
	(void)state;

	stream_rate(s, RATE);
	for (size_t i = 0; i < sizeof iq; i++)
		iq[i] = i % 2 == 0 ? 'i' : 'q';
	ring_put(stream_ring(s), iq, 999, 1000);
	ring_put(stream_ring(s), iq + 1, 501, 1300);            /* goes on with a q */
	for (int k = 0; k < 62; k++)
		ring_put(stream_ring(s), iq, 2, 1400);
	ring_put(stream_ring(s), iq, 3, 1500);                  /* lost */
	assert_int_equal(stream_read(s, 750 + 62, &b, &why), 0);
	assert_false(b.gap);
	for (size_t i = 0; i < 2 * b.n; i++)
		assert_int_equal(((const uint8_t *)b.iq)[i], i % 2 == 0 ? 'i' : 'q');
	ring_put(stream_ring(s), iq + 1, 9, 1600);
	assert_int_equal(stream_read(s, 4, &b, &why), 0);
	assert_true(b.gap);
	for (size_t i = 0; i < 2 * b.n; i++)
		assert_int_equal(((const uint8_t *)b.iq)[i], i % 2 == 0 ? 'i' : 'q');
	stream_destroy(s);
}

static void silence_and_end_are_faults(void **state)
{
	struct stream *s = stream_create("dongle 7");
	struct fault why = { 0 };
	struct block b;
	(void)state;

	stream_rate(s, RATE);
	assert_int_equal(stream_read(s, 10, &b, &why), -1);
	assert_int_equal(why.kind, FAULT_RETRY);
	assert_non_null(strstr(why.text, "dongle 7: no samples for 1 s"));
	ring_end(stream_ring(s));
	assert_int_equal(stream_read(s, 10, &b, &why), -1);
	assert_int_equal(why.kind, FAULT_RETRY);
	assert_non_null(strstr(why.text, "dongle 7: it vanished"));
	stream_destroy(s);
}

static void a_thin_stream_is_a_fault(void **state)
{
	struct air a = air_begin();
	struct fault why = { 0 };
	struct block b;
	int result = 0;
	(void)state;

	for (int k = 0; k < 20; k++)
		assert_int_equal(stream_read(a.stream, EACH / 2, &b, &why), 0);
	for (int k = 0; k < 1100 && result == 0; k++) {         /* a ninth falls out */
		send(&a, EACH, k * 1250);
		result = stream_read(a.stream, EACH / 2, &b, &why);
	}
	assert_int_equal(result, -1);
	assert_int_equal(why.kind, FAULT_RETRY);
	assert_non_null(strstr(why.text, "89 % of its samples"));
	stream_destroy(a.stream);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(keeps_order_and_counts_losses),
		cmocka_unit_test(clear_drops_without_a_gap),
		cmocka_unit_test(end_comes_after_what_waits),
		cmocka_unit_test(two_threads),
		cmocka_unit_test(pace_is_the_least_late),
		cmocka_unit_test(pace_sees_samples_fall_out),
		cmocka_unit_test(pace_share_of_ten_seconds),
		cmocka_unit_test(pace_does_not_drift_in_a_year),
		cmocka_unit_test(nothing_stale_after_a_retune),
		cmocka_unit_test(times_count_samples),
		cmocka_unit_test(i_stays_i),
		cmocka_unit_test(silence_and_end_are_faults),
		cmocka_unit_test(a_thin_stream_is_a_fault),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
