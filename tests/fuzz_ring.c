/* Plays, by what it is given, a capture process gone mad: it puts deliveries, writes what it likes anywhere into the
 * memory that it shares with the daemon, and ends. The daemon's side believes nothing of it. As it is built, it takes
 * files and folders of them and serves as a test over tests/corpus/ring; tests/fuzz.sh searches for more. */
#include "tests/fuzz_script.h"

#include <unistd.h>

#include "daemon/dongle/ring.h"

#define SLOTS 4
#define ROOM  64

struct two_ends {
	struct ring *taker, *putter;
	int64_t      length, expected;  /* bytes that are shared; of the stream, that come next at the least */
};

static void put(struct two_ends *t, struct script *s)
{
	uint8_t bytes[3 * ROOM];
	size_t n = 1 + script_part(s, sizeof bytes);

	for (size_t i = 0; i < n; i++)
		bytes[i] = (uint8_t)i;
	ring_put(t->putter, bytes, n, script_byte(s));
}

static void scribble(struct two_ends *t, struct script *s)
{
	off_t at = (off_t)(script_part(s, 65536) % (t->length / 8) * 8);
	uint64_t word = 0;

	for (int n = script_byte(s) % 9; n > 0; n--)
		word = word << 8 | script_byte(s);
	promise(pwrite(ring_memory(t->taker), &word, sizeof word, at) == sizeof word, "memory to write in");
}

static void take(struct two_ends *t, struct script *s)
{
	struct slot slot;
	unsigned sum = 0;

	(void)s;
	switch (ring_take(t->taker, &slot)) {
	case RING_SLOT:
		promise(slot.n > 0 && slot.n <= ROOM && slot.first >= t->expected, "a slot");
		t->expected = slot.first + (int64_t)slot.n;
		for (size_t i = 0; i < slot.n; i++)
			sum += slot.bytes[i];
		promise(sum <= slot.n * 255, "bytes that are there");
		ring_release(t->taker);
		break;
	case RING_EMPTY: case RING_ENDED: case RING_NONSENSE:
		ring_hush(t->taker);
		break;
	default:
		promise(false, "one of four answers");
	}
}

static void end(struct two_ends *t, struct script *s)
{
	if (script_byte(s) == 0)
		ring_end(t->putter);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	static void (*const deeds[])(struct two_ends *t, struct script *s) = { put, scribble, take, scribble, take, end };
	struct script s = { bytes, n };
	struct two_ends t = { .taker = ring_create(SLOTS, ROOM) };

	promise(t.taker != NULL, "memory for the ring");
	t.putter = ring_join(dup(ring_memory(t.taker)), dup(ring_bell(t.taker)));
	promise(t.putter != NULL, "another end");
	t.length = lseek(ring_memory(t.taker), 0, SEEK_END);
	for (int i = 0; i < 200 && s.left > 0; i++)
		deeds[script_byte(&s) % (sizeof deeds / sizeof deeds[0])](&t, &s);
	ring_destroy(t.putter);
	ring_destroy(t.taker);
	return 0;
}
