#include "tests/test.h"

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "daemon/dongle/ring.h"

static void put_text(struct ring *r, const char *text, int64_t at_us)
{
	ring_put(r, (const uint8_t *)text, strlen(text), at_us);
}

static void assert_slot(struct ring *r, const char *text, int64_t first, bool gap, int64_t at_us)
{
	struct slot s;
	assert_int_equal(ring_take(r, &s), RING_SLOT);
	assert_int_equal(s.n, strlen(text));
	assert_memory_equal(s.bytes, text, s.n);
	assert_int_equal(s.first, first);
	assert_int_equal(s.gap, gap);
	assert_int_equal(s.at_us, at_us);
	ring_release(r);
}

static void keeps_order_and_tells_of_losses(void **state)
{
	struct ring *r = ring_create(3, 8);
	struct slot s;
	(void)state;

	assert_non_null(r);
	assert_int_equal(ring_take(r, &s), RING_EMPTY);
	put_text(r, "abcdefghij", 7);           /* more than a slot holds: two */
	put_text(r, "klm", 8);
	put_text(r, "xyz", 9);                  /* no room */
	assert_slot(r, "abcdefgh", 0, false, 7);
	put_text(r, "no", 10);
	assert_int_equal(ring_count(r), 18);
	assert_int_equal(ring_take(r, &s), RING_SLOT);
	assert_slot(r, "ij", 8, false, 7);      /* the same until it is released */
	assert_slot(r, "klm", 10, false, 8);
	assert_slot(r, "no", 16, true, 10);     /* what it lacks is counted in */
	put_text(r, "p", 11);
	assert_slot(r, "p", 18, false, 11);
	ring_release(r);                        /* nothing was taken */
	assert_int_equal(ring_take(r, &s), RING_EMPTY);
	ring_destroy(r);
}

static void end_comes_after_what_waits(void **state)
{
	struct ring *r = ring_create(2, 8);
	struct slot s;
	(void)state;

	put_text(r, "ab", 1);
	ring_end(r);
	assert_slot(r, "ab", 0, false, 1);
	assert_int_equal(ring_take(r, &s), RING_ENDED);
	ring_destroy(r);
}

static bool rings(const struct ring *r)
{
	struct pollfd bell = { .fd = ring_bell(r), .events = POLLIN };
	return poll(&bell, 1, 0) == 1;
}

static void the_bell_rings_for_news(void **state)
{
	struct ring *r = ring_create(2, 8);
	(void)state;

	assert_false(rings(r));
	put_text(r, "ab", 1);
	assert_true(rings(r));
	ring_hush(r);
	ring_hush(r);                           /* never waits */
	assert_false(rings(r));
	put_text(r, "cdefgh", 2);
	put_text(r, "i", 3);                    /* no room: that it goes on is news as well */
	assert_true(rings(r));
	ring_hush(r);
	ring_end(r);
	assert_true(rings(r));
	ring_destroy(r);
}

/* Two mappings, as two processes have. */
static struct ring *join(const struct ring *r)
{
	struct ring *putter = ring_join(dup(ring_memory(r)), dup(ring_bell(r)));
	assert_non_null(putter);
	return putter;
}

static void what_is_joined_is_the_same(void **state)
{
	struct ring *r = ring_create(5, 24), *putter = join(r);
	(void)state;

	assert_int_equal(ring_begun_us(r), 0);
	ring_begin(putter, 7);
	put_text(putter, "abc", 8);
	assert_slot(r, "abc", 0, false, 8);
	assert_int_equal(ring_begun_us(r), 7);
	assert_int_equal(ftruncate(ring_memory(r), 10), -1);    /* nobody can take it away */
	ring_destroy(putter);
	put_text(r, "d", 9);
	ring_destroy(r);
	assert_null(ring_join(-1, -1));
	assert_null(ring_join(memfd_create("short", 0), -1));
}

/* Whether reading the bell waits is a flag that the putter can take away. */
static void the_bell_is_hushed_without_waiting(void **state)
{
	struct ring *r = ring_create(2, 8), *putter = join(r);
	(void)state;

	assert_int_equal(fcntl(ring_bell(putter), F_SETFL, 0), 0);
	put_text(putter, "ab", 1);
	ring_hush(r);
	assert_false(rings(r));
	ring_hush(r);                           /* else here for ever */
	ring_destroy(putter);
	ring_destroy(r);
}

/* Slots and their bytes that make up any length together, once 64 bits are full. */
static void what_cant_be_is_not_joined(void **state)
{
	static const uint64_t sizes[][2] = { { 0, 8 }, { 8, 0 }, { 0, 0 }, { UINT64_C(1) << 61, 8 },
					     { UINT64_C(1) << 63, 8192 }, { 512, UINT64_C(1) << 61 } };
	(void)state;

	for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
		for (off_t length = 64; length < 32768; length += 64) {
			int memory = memfd_create("mad", MFD_CLOEXEC);
			assert_int_equal(ftruncate(memory, length), 0);
			assert_int_equal(pwrite(memory, sizes[i], sizeof sizes[i], 0), sizeof sizes[i]);
			if (ring_join(memory, -1))
				fail_msg("joined %llu slots of %llu bytes in %lld", (unsigned long long)sizes[i][0],
					 (unsigned long long)sizes[i][1], (long long)length);
		}
}

#define HAVOC_SEED 20260301u

/* A putter gone mad may write anything anywhere. What the taker then reads is
 * never outside the ring, nor runs backwards. */
static void havoc_stays_in_the_ring(void **state)
{
	uint64_t chance = HAVOC_SEED;
	(void)state;

	for (int round = 0; round < 3000; round++) {
		struct ring *r = ring_create(4, 64), *putter = join(r);
		struct slot s;
		int64_t expected = 0, length = lseek(ring_memory(r), 0, SEEK_END);
		for (int k = 0; k < 3; k++)
			put_text(putter, "abcdef", k);
		for (int k = 0; k < 1 + round % 40; k++) {
			chance = chance * 6364136223846793005u + 1442695040888963407u;
			uint64_t word = chance >> (chance >> 58);
			assert_int_equal(pwrite(ring_memory(r), &word, sizeof word,
						(off_t)(chance >> 20) % (length / 8) * 8), sizeof word);
		}
		for (int k = 0; k < 20 && ring_take(r, &s) == RING_SLOT; k++) {
			if (s.n == 0 || s.n > 64 || s.first < expected)
				fail_msg("seed %u, round %d: %zu bytes at %lld", HAVOC_SEED, round, s.n,
					 (long long)s.first);
			expected = s.first + (int64_t)s.n;
			for (size_t i = 0; i < s.n; i++)        /* for the sanitizer to see */
				chance += s.bytes[i];
			ring_release(r);
		}
		ring_destroy(putter);
		ring_destroy(r);
	}
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
	int64_t taken = 0, expected = 0, rounds = 0;
	enum ring_result result;
	(void)state;

	assert_int_equal(pthread_create(&putter, NULL, put_all, r), 0);
	while ((result = ring_take(r, &s)) >= RING_EMPTY) {
		if (result == RING_EMPTY) {
			sched_yield();
			continue;
		}
		if (s.first != expected && !s.gap)
			fail_msg("%lld bytes are missing before %lld without a word",
				 (long long)(s.first - expected), (long long)s.first);
		for (size_t i = 0; i < s.n; i++)
			if (s.bytes[i] != byte_at(s.first + (int64_t)i))
				fail_msg("byte %lld is wrong", (long long)s.first + (long long)i);
		taken += (int64_t)s.n;
		expected = s.first + (int64_t)s.n;
		ring_release(r);
		if (++rounds % 1000 == 0)
			sched_yield();
	}
	pthread_join(putter, NULL);
	assert_int_equal(result, RING_ENDED);
	assert_true(taken > 0 && taken <= ring_count(r));
	ring_destroy(r);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(keeps_order_and_tells_of_losses),
		cmocka_unit_test(end_comes_after_what_waits),
		cmocka_unit_test(the_bell_rings_for_news),
		cmocka_unit_test(what_is_joined_is_the_same),
		cmocka_unit_test(the_bell_is_hushed_without_waiting),
		cmocka_unit_test(what_cant_be_is_not_joined),
		cmocka_unit_test(havoc_stays_in_the_ring),
		cmocka_unit_test(two_threads),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
