#include "tests/test.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/dongle/stream.h"

#define SECOND 1000000

/* Deliveries of 48 000 bytes are 10 ms at 2.4 MS/s. */
#define RATE    2400000
#define EACH    48000
#define EACH_US 10000

/* What is to come lies in the past for it: no delivery is of the future. */
#define AGO_US (30 * INT64_C(1000000))

/* A stream whose byte e was received at start_us + e / 4.8; its bytes are 1
 * before change_us and 2 from there on. */
struct air {
	struct ring   *ring;
	struct stream *stream;
	int64_t        start_us, change_us, sent;
};

static void send(struct air *a, size_t n, int64_t late_us)
{
	static uint8_t bytes[65536];
	int64_t end = a->sent + (int64_t)n;

	for (size_t i = 0; i < n; i++)
		bytes[i] = a->start_us + (a->sent + (int64_t)i) * 10 / 48 < a->change_us ? 1 : 2;
	ring_put(a->ring, bytes, n, a->start_us + end * 10 / 48 + late_us);
	a->sent = end;
}

static int64_t sent_us(const struct air *a)
{
	return a->start_us + a->sent * 10 / 48;
}

/* Tuned since the beginning, with 20 deliveries waiting after those from which
 * the stream's clock was learnt. Its putter says that it began at begun_us. */
static struct air air_of(int64_t start_us, int64_t begun_us, int64_t late_us)
{
	struct air a = { ring_create(64, 65536), stream_create(), start_us, INT64_MAX, 0 };
	struct block b;

	assert_non_null(a.ring);
	assert_non_null(a.stream);
	ring_begin(a.ring, begun_us);
	stream_attach(a.stream, a.ring, start_us - SECOND);
	stream_hold(a.stream, RATE);
	for (int k = 0; k < 10; k++)
		send(&a, EACH, late_us + k % 3 * 2000);
	assert_int_equal(stream_read(a.stream, 1, &b), STREAM_LATER);
	stream_fresh(a.stream, a.sent, sent_us(&a) + late_us);
	for (int k = 0; k < 22; k++)
		send(&a, EACH, late_us + k % 3 * 2000);
	return a;
}

static struct air air_begin(void)
{
	return air_of(stream_now_us() - AGO_US, 0, 0);
}

static void air_end(struct air *a)
{
	stream_destroy(a->stream);
	ring_destroy(a->ring);
}

static const struct {
	const char *why;
	int         queued;     /* deliveries that wait in the ring                  */
	int         late;       /* deliveries that were under way and come in one burst */
} bursts[] = {
	{ "prompt: the one under way is old", 0, 1 },
	{ "the library's thread lagged: all that it held is old", 0, 6 },
	{ "the ring held some as well", 9, 3 },
};

static void nothing_stale_after_a_retune(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof bursts / sizeof bursts[0]; i++) {
		struct air a = air_begin();
		struct block b;
		for (int k = 0; k < 20; k++)
			assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_BLOCK);
		for (int k = 0; k < bursts[i].queued; k++)
			send(&a, EACH, 0);
		stream_hold(a.stream, RATE);
		/* 1s are of the old tuning or unsettled. */
		int64_t put = a.sent, tuned_us = sent_us(&a) + (bursts[i].late - 1) * EACH_US + 3000;
		a.change_us = tuned_us + 5000;
		for (int k = 0; k < bursts[i].late; k++)
			send(&a, EACH, (bursts[i].late - k) * EACH_US);
		assert_int_equal(stream_read(a.stream, EACH, &b), STREAM_LATER);
		stream_fresh(a.stream, put, tuned_us);
		for (int k = 0; k < 9; k++)
			send(&a, EACH, 0);
		assert_int_equal(stream_read(a.stream, EACH, &b), STREAM_BLOCK);
		if (memchr(b.iq, 1, 2 * b.n))
			fail_msg("%s: stale samples in the first block", bursts[i].why);
		if (b.mono_us < a.change_us || b.mono_us > a.change_us + 2 * EACH_US || b.gap)
			fail_msg("%s: stamped %lld us late, gap %d", bursts[i].why,
				 (long long)(b.mono_us - a.change_us), b.gap);
		air_end(&a);
	}
}

/* Nothing prompt was ever seen, and the clock of the stream is late by as much; only since
 * when it flows is known. */
static void a_reader_late_ever_since_gives_nothing_stale(void **state)
{
	static const int64_t lates_us[] = { 0, 3000, 30000, 90000 };
	(void)state;
	for (size_t i = 0; i < sizeof lates_us / sizeof lates_us[0]; i++) {
		int64_t late_us = lates_us[i];
		int64_t start_us = stream_now_us() - AGO_US;
		struct air a = air_of(start_us, start_us - 1000, late_us);
		struct block b;
		while (stream_read(a.stream, EACH / 2, &b) == STREAM_BLOCK)
			continue;
		stream_hold(a.stream, RATE);
		a.change_us = sent_us(&a) + late_us;
		stream_fresh(a.stream, a.sent, a.change_us);
		for (int k = 0; k < 15; k++)
			send(&a, EACH, late_us + k % 2 * 1000);
		assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_BLOCK);
		if (memchr(b.iq, 1, 2 * b.n))
			fail_msg("late by %lld us: stale samples in the first block", (long long)late_us);
		if (b.mono_us > a.change_us + late_us + 2 * EACH_US)
			fail_msg("late by %lld us: the first block is %lld us younger than the tuning",
				 (long long)late_us, (long long)(b.mono_us - a.change_us));
		air_end(&a);
	}
}

/* Since when comes from another process: it may be anything. */
static void a_mad_beginning_does_no_harm(void **state)
{
	const int64_t mad_us[] = { -1, INT64_MIN, 1, stream_now_us() + 1000 * (int64_t)SECOND, INT64_MAX };
	(void)state;
	for (size_t i = 0; i < sizeof mad_us / sizeof mad_us[0]; i++) {
		struct air a = air_of(stream_now_us() - AGO_US, mad_us[i], 0);
		struct block b;
		assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_BLOCK);
		if (b.mono_us < sent_us(&a) - 22 * EACH_US || b.mono_us > sent_us(&a) - 20 * EACH_US)
			fail_msg("begun at %lld: the first block is of %lld us", (long long)mad_us[i],
				 (long long)(b.mono_us - sent_us(&a)));
		air_end(&a);
	}
}

/* Deliveries that no dongle made, put by a process that says what it likes: after the 32
 * ordinary ones, which lasted for 0.32 s. */
static const struct {
	const char *why;
	int64_t     late_us;            /* against when it was due                             */
	int         lost;               /* deliveries put beforehand, for which there is no room */
	bool        nonsense;
} mad[] = {
	{ "ordinary", 0, 0, false },
	{ "a second late", SECOND, 0, false },
	{ "of the future", AGO_US + 60 * SECOND, 0, true },
	{ "of the end of time", INT64_C(1) << 52, 0, true },
	{ "three seconds late, after 2 s of bytes that got lost", 3 * SECOND, 200, false },
	{ "20 s of bytes got lost within one", SECOND, 2000, true },
};

static void what_no_dongle_makes_is_nonsense(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof mad / sizeof mad[0]; i++) {
		struct air a = air_begin();
		struct block b;
		enum stream_result r;
		int64_t at_us = sent_us(&a);
		if (mad[i].lost > 0)            /* with the 22 that wait it is full then */
			for (int k = 0; k < 42 + mad[i].lost; k++)
				send(&a, EACH, at_us - sent_us(&a));
		do
			r = stream_read(a.stream, EACH / 2, &b);
		while (r == STREAM_BLOCK);
		assert_int_equal(r, STREAM_LATER);
		send(&a, EACH, at_us + mad[i].late_us - sent_us(&a));
		r = stream_read(a.stream, EACH / 2, &b);
		if ((r == STREAM_NONSENSE) != mad[i].nonsense)
			fail_msg("%s: gave %d", mad[i].why, r);
		air_end(&a);
	}
}

/* Nor before it was there itself. */
static void nothing_came_before_its_putter(void **state)
{
	struct air a = air_begin();
	struct block b;
	(void)state;

	ring_destroy(a.ring);
	a.ring = ring_create(64, 65536);
	stream_attach(a.stream, a.ring, sent_us(&a));
	stream_hold(a.stream, RATE);
	a.sent = 0;
	send(&a, EACH, 0);
	assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_NONSENSE);
	air_end(&a);
}

/* However long ago it was tuned for what is then delivered: all of that is stale. */
static void a_century_after_all_is_stale(void **state)
{
	struct air a = air_begin();
	struct block b;
	(void)state;

	stream_hold(a.stream, RATE);
	stream_fresh(a.stream, a.sent, sent_us(&a) + INT64_C(100) * 366 * 86400 * SECOND);
	for (int k = 0; k < 9; k++)
		send(&a, EACH, 0);
	assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_LATER);
	air_end(&a);
}

static void times_count_samples(void **state)
{
	struct air a = air_begin();
	struct block first, b;
	(void)state;

	assert_int_equal(stream_read(a.stream, 1234, &first), STREAM_BLOCK);
	int64_t at_us = first.mono_us;
	assert_int_equal(stream_read(a.stream, 24000, &b), STREAM_BLOCK);
	assert_in_range(b.mono_us - at_us + 1, 514, 516);       /* 1234 samples are 514.2 us */
	assert_int_equal(b.rate_hz, RATE);
	assert_int_equal(b.format, SAMPLE_CU8);
	assert_false(b.gap);
	assert_int_equal(stream_counts(a.stream).taken, 2 * (1234 + 24000));
	air_end(&a);
}

/* What is asked for comes when there is enough; another length begins again. */
static void a_block_is_made_of_many_deliveries(void **state)
{
	struct air a = air_begin();
	struct block b;
	(void)state;

	assert_int_equal(stream_read(a.stream, 30 * EACH / 2, &b), STREAM_LATER);
	assert_true(stream_heard_us(a.stream) > 0);
	for (int k = 0; k < 9; k++)
		send(&a, EACH, 0);
	assert_int_equal(stream_read(a.stream, 30 * EACH / 2, &b), STREAM_BLOCK);
	assert_false(b.gap);
	assert_int_equal(stream_read(a.stream, 30 * EACH / 2, &b), STREAM_LATER);
	send(&a, EACH, 0);
	assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_BLOCK);
	air_end(&a);
}

/* The library may deliver odd lengths; a loss may be odd as well. */
static void i_stays_i(void **state)
{
	struct air a = air_begin();
	struct block b;
	uint8_t iq[999];
	(void)state;

	for (int r = STREAM_BLOCK; r == STREAM_BLOCK;)  /* until it is empty and settled */
		r = stream_read(a.stream, 1000, &b);
	for (size_t i = 0; i < sizeof iq; i++)
		iq[i] = i % 2 == 0 ? 'i' : 'q';
	int64_t at_us = sent_us(&a);
	stream_read(a.stream, 1, &b);                           /* another length: begins again */
	ring_put(a.ring, iq, 999, at_us + 100);
	ring_put(a.ring, iq + 1, 501, at_us + 200);             /* goes on with a q */
	assert_int_equal(stream_read(a.stream, 750, &b), STREAM_BLOCK);
	assert_false(b.gap);
	for (size_t i = 0; i < 2 * b.n; i++)
		assert_int_equal(((const uint8_t *)b.iq)[i], i % 2 == 0 ? 'i' : 'q');
	for (int k = 0; k < 63; k++)                             /* with the one in hand it is full */
		ring_put(a.ring, iq, 2, at_us + 300);
	ring_put(a.ring, iq, 3, at_us + 400);                   /* lost */
	assert_int_equal(stream_read(a.stream, 63, &b), STREAM_BLOCK);
	ring_put(a.ring, iq + 1, 9, at_us + 500);
	assert_int_equal(stream_read(a.stream, 4, &b), STREAM_BLOCK);
	assert_true(b.gap);
	for (size_t i = 0; i < 2 * b.n; i++)
		assert_int_equal(((const uint8_t *)b.iq)[i], i % 2 == 0 ? 'i' : 'q');
	assert_int_equal(stream_counts(a.stream).lost, 3);
	assert_int_equal(stream_counts(a.stream).gaps, 1);
	air_end(&a);
}

static void the_end_is_told(void **state)
{
	struct air a = air_begin();
	struct block b;
	(void)state;

	ring_end(a.ring);
	for (int k = 0; k < 20; k++)
		assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_BLOCK);
	assert_int_equal(stream_read(a.stream, EACH, &b), STREAM_ENDED);
	air_end(&a);
}

static void a_thin_stream_is_told(void **state)
{
	struct air a = air_begin();
	struct block b;
	enum stream_result result = STREAM_BLOCK;
	(void)state;

	for (int k = 0; k < 20; k++)
		assert_int_equal(stream_read(a.stream, EACH / 2, &b), STREAM_BLOCK);
	for (int k = 0; k < 1100 && result >= STREAM_LATER; k++) {      /* a ninth falls out */
		send(&a, EACH, k * 1250);
		result = stream_read(a.stream, EACH / 2, &b);
	}
	assert_int_equal(result, STREAM_THIN);
	assert_true(stream_share(a.stream) > 0.88 && stream_share(a.stream) < 0.90);
	assert_true(stream_counts(a.stream).gaps > 0);
	air_end(&a);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(nothing_stale_after_a_retune),
		cmocka_unit_test(a_reader_late_ever_since_gives_nothing_stale),
		cmocka_unit_test(a_mad_beginning_does_no_harm),
		cmocka_unit_test(what_no_dongle_makes_is_nonsense),
		cmocka_unit_test(nothing_came_before_its_putter),
		cmocka_unit_test(a_century_after_all_is_stale),
		cmocka_unit_test(times_count_samples),
		cmocka_unit_test(a_block_is_made_of_many_deliveries),
		cmocka_unit_test(i_stays_i),
		cmocka_unit_test(the_end_is_told),
		cmocka_unit_test(a_thin_stream_is_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
