/* Plays, by what it is given, a capture process gone mad: it puts deliveries, writes what it likes anywhere into the
 * memory that it shares with the daemon, and ends. The daemon's side believes nothing of it: first the ring's end alone,
 * then, from the beginning, the stream that makes blocks of it. As it is built, it takes files and folders of them and
 * serves as a test over tests/corpus/ring; tests/fuzz.sh searches for more. */
#include "tests/fuzz_script.h"

#include <unistd.h>

#include "daemon/dongle/ring.h"
#include "daemon/dongle/stream.h"

#define SLOTS 4
#define ROOM  64
#define RATE  2400000
#define STEP_US 1024            /* a script's byte lasts for so long: a clock is believed after 50 ms */

struct two_ends {
	struct ring   *taker, *putter;
	struct stream *stream;          /* NULL: the ring's end alone */
	int64_t        at_us;
	int64_t        length, expected;  /* bytes that are shared; of the stream, that come next at the least */
};

static void put(struct two_ends *t, struct script *s)
{
	uint8_t bytes[3 * ROOM];
	size_t n = 1 + script_part(s, sizeof bytes);

	for (size_t i = 0; i < n; i++)
		bytes[i] = (uint8_t)i;
	t->at_us = script_byte(s) + (t->stream ? t->at_us + script_byte(s) * STEP_US : 0);
	ring_put(t->putter, bytes, n, t->at_us);
}

static void scribble(struct two_ends *t, struct script *s)
{
	off_t at = (off_t)(script_part(s, 65536) % (t->length / 8) * 8);
	uint64_t word = 0;

	for (int n = script_byte(s) % 9; n > 0; n--)
		word = word << 8 | script_byte(s);
	promise(pwrite(ring_memory(t->taker), &word, sizeof word, at) == sizeof word, "memory to write in");
}

/* Whatever is put, what is told of it is no more than time allows. */
static void listen(struct two_ends *t, struct script *s)
{
	int64_t now_us = stream_now_us();
	struct block b;

	if (script_byte(s) % 16 == 0)
		stream_hold(t->stream, script_byte(s) % 2 ? RATE : RATE / 10);
	if (script_byte(s) % 4 == 0)
		stream_fresh(t->stream, script_byte(s) * ROOM, script_byte(s) * STEP_US);
	if (stream_read(t->stream, 1 + script_byte(s), &b) == STREAM_BLOCK)
		promise(b.mono_us > -1000000 && b.mono_us <= stream_now_us(), "a time that has been");
	struct stream_counts c = stream_counts(t->stream);
	promise(c.taken >= 0 && c.stale >= 0 && c.lost >= 0 && c.lost <= 8 * (now_us + 1000000), "a possible loss");
}

static void take(struct two_ends *t, struct script *s)
{
	struct slot slot;
	unsigned sum = 0;

	if (t->stream) {
		listen(t, s);
		return;
	}
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

static void play(struct script s, struct stream *stream)
{
	static void (*const deeds[])(struct two_ends *t, struct script *s) = { put, scribble, take, scribble, take, end };
	struct two_ends t = { .taker = ring_create(SLOTS, ROOM), .stream = stream };

	promise(t.taker != NULL, "memory for the ring");
	if (stream) {
		stream_attach(stream, t.taker, 0);
		stream_hold(stream, RATE);
		stream_fresh(stream, 0, 0);
	}
	t.putter = ring_join(dup(ring_memory(t.taker)), dup(ring_bell(t.taker)));
	promise(t.putter != NULL, "another end");
	t.length = lseek(ring_memory(t.taker), 0, SEEK_END);
	for (int i = 0; i < 200 && s.left > 0; i++)
		deeds[script_byte(&s) % (sizeof deeds / sizeof deeds[0])](&t, &s);
	stream_destroy(stream);
	ring_destroy(t.putter);
	ring_destroy(t.taker);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
	struct stream *stream = stream_create();

	promise(stream != NULL, "memory for the stream");
	play((struct script){ bytes, n }, NULL);
	play((struct script){ bytes, n }, stream);
	return 0;
}
