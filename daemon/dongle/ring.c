#include "daemon/dongle/ring.h"

#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

#define LINE 64                         /* of the processor's cache, in bytes */

/* So that their product is far from any end. */
#define SLOTS_MOST (1 << 20)
#define SLOT_MOST  (1 << 26)            /* bytes */

struct entry {
	_Atomic int64_t  first, at_us;
	_Atomic uint32_t n, gap;
};

/* What both processes see; the entries follow, then the bytes. filled and
 * released count slots for ever and never wrap. */
struct common {
	uint64_t slots, slot_bytes;
	_Alignas(LINE) _Atomic uint64_t filled;
	_Atomic int64_t  begun_us;
	_Atomic uint32_t ended;
	_Alignas(LINE) _Atomic uint64_t released;
	_Alignas(LINE) struct entry entry[];
};

/* Each side's own. Nothing here is read from the common part again, so that
 * neither is led out of it, nor to count past all bounds, by the other gone mad. */
struct ring {
	struct common *common;
	size_t         length;          /* bytes mapped                           */
	uint64_t       slots, slot_bytes;
	uint8_t       *bytes;
	int            memory, bell;
	uint64_t       filled;          /* putter's                               */
	_Atomic int64_t put;            /* putter's: bytes, lost ones too         */
	bool           gap;             /* putter's: for the next slot filled     */
	uint64_t       released;        /* taker's                                */
	struct slot    held;            /* taker's: taken and not yet released    */
	int64_t        expected;        /* taker's: first of the slot to come, at the least */
	int64_t        last_us;         /* taker's: at_us of the slot before      */
};

static size_t entries_end(uint64_t slots)
{
	return (sizeof(struct common) + (size_t)slots * sizeof(struct entry) + LINE - 1) / LINE *
	       LINE;
}

static struct ring *begin(int memory, int bell)
{
	struct ring *r = calloc(1, sizeof *r);

	if (!r)
		return NULL;
	r->memory = memory;
	r->bell = bell;
	return r;
}

static int map(struct ring *r, size_t length)
{
	void *at = mmap(NULL, length, PROT_READ | PROT_WRITE, MAP_SHARED, r->memory, 0);

	if (at == MAP_FAILED)
		return -1;
	r->common = at;
	r->length = length;
	return 0;
}

static void settle(struct ring *r, uint64_t slots, uint64_t slot_bytes)
{
	r->slots = slots;
	r->slot_bytes = slot_bytes;
	r->bytes = (uint8_t *)r->common + entries_end(slots);
}

/* Sealed, so that nobody can take memory away from under the taker. */
struct ring *ring_create(size_t slots, size_t slot_bytes)
{
	size_t length = entries_end(slots) + slots * slot_bytes;
	struct ring *r = begin(memfd_create("bandcensus-ring", MFD_CLOEXEC | MFD_ALLOW_SEALING),
			       eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK));

	if (!r)
		return NULL;
	if (r->memory < 0 || r->bell < 0 || ftruncate(r->memory, (off_t)length) < 0 ||
	    fcntl(r->memory, F_ADD_SEALS, F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL) < 0 ||
	    map(r, length) < 0)
		goto fail;
	r->common->slots = slots;
	r->common->slot_bytes = slot_bytes;
	settle(r, slots, slot_bytes);
	return r;
fail:
	ring_destroy(r);
	return NULL;
}

struct ring *ring_join(int memory, int bell)
{
	struct ring *r = begin(memory, bell);
	struct stat about;

	if (!r)
		return NULL;
	if (fstat(memory, &about) < 0 || about.st_size < (off_t)sizeof(struct common) ||
	    map(r, (size_t)about.st_size) < 0)
		goto fail;
	settle(r, r->common->slots, r->common->slot_bytes);
	if (r->slots == 0 || r->slots > SLOTS_MOST || r->slot_bytes == 0 || r->slot_bytes > SLOT_MOST ||
	    entries_end(r->slots) + r->slots * r->slot_bytes != r->length) {
		errno = EINVAL;
		goto fail;
	}
	return r;
fail:
	ring_destroy(r);
	return NULL;
}

void ring_destroy(struct ring *r)
{
	if (!r)
		return;
	if (r->common)
		munmap(r->common, r->length);
	if (r->memory >= 0)
		close(r->memory);
	if (r->bell >= 0)
		close(r->bell);
	free(r);
}

int ring_memory(const struct ring *r)
{
	return r->memory;
}

int ring_bell(const struct ring *r)
{
	return r->bell;
}

/* Whether reading waits is a flag that both processes may set, so it is said with the reading
 * (since Linux 5.8). */
void ring_hush(struct ring *r)
{
	uint64_t rung;
	const struct iovec into = { &rung, sizeof rung };
	ssize_t n;

	while ((n = preadv2(r->bell, &into, 1, -1, RWF_NOWAIT)) < 0 && errno == EINTR)
		continue;
	if (n >= 0 || (errno != EOPNOTSUPP && errno != ENOSYS))
		return;
	while (read(r->bell, &rung, sizeof rung) < 0 && errno == EINTR)
		continue;
}

static void ring_it(struct ring *r)
{
	uint64_t once = 1;
	while (write(r->bell, &once, sizeof once) < 0 && errno == EINTR)
		continue;
}

/* ---- the putter ---- */

void ring_begin(struct ring *r, int64_t at_us)
{
	atomic_store_explicit(&r->common->begun_us, at_us, memory_order_relaxed);
}

static void put_one(struct ring *r, const uint8_t *bytes, size_t n, int64_t at_us)
{
	struct common *c = r->common;
	int64_t put = atomic_load_explicit(&r->put, memory_order_relaxed);
	uint64_t at = r->filled % r->slots;
	bool room = r->filled - atomic_load_explicit(&c->released, memory_order_acquire) < r->slots;

	if (room) {
		memcpy(r->bytes + at * r->slot_bytes, bytes, n);
		atomic_store_explicit(&c->entry[at].first, put, memory_order_relaxed);
		atomic_store_explicit(&c->entry[at].at_us, at_us, memory_order_relaxed);
		atomic_store_explicit(&c->entry[at].n, (uint32_t)n, memory_order_relaxed);
		atomic_store_explicit(&c->entry[at].gap, r->gap, memory_order_relaxed);
		atomic_store_explicit(&c->filled, ++r->filled, memory_order_release);
	}
	r->gap = !room;
	atomic_store_explicit(&r->put, put + (int64_t)n, memory_order_release);
}

void ring_put(struct ring *r, const uint8_t *bytes, size_t n, int64_t at_us)
{
	while (n > 0) {
		size_t part = n < r->slot_bytes ? n : (size_t)r->slot_bytes;
		put_one(r, bytes, part, at_us);
		bytes += part;
		n -= part;
	}
	ring_it(r);
}

int64_t ring_count(const struct ring *r)
{
	return atomic_load_explicit(&r->put, memory_order_acquire);
}

void ring_end(struct ring *r)
{
	atomic_store_explicit(&r->common->ended, 1, memory_order_release);
	ring_it(r);
}

/* ---- the taker ---- */

/* A century of the fastest stream is under 2^55 bytes, and of the clock under 2^52 us. */
static bool makes_sense(const struct ring *r, const struct slot *s)
{
	return s->n > 0 && s->n <= r->slot_bytes && s->first >= r->expected &&
	       s->first < INT64_C(1) << 55 && (s->gap || s->first == r->expected) &&
	       s->at_us >= r->last_us && s->at_us < INT64_C(1) << 53;
}

/* Ended is looked at first: what was put before it is then seen. */
enum ring_result ring_take(struct ring *r, struct slot *out)
{
	struct common *c = r->common;
	bool ended = atomic_load_explicit(&c->ended, memory_order_acquire);
	uint64_t there = atomic_load_explicit(&c->filled, memory_order_acquire) - r->released;
	uint64_t at = r->released % r->slots;

	if (there == 0)
		return ended ? RING_ENDED : RING_EMPTY;
	if (there > r->slots)
		return RING_NONSENSE;
	*out = (struct slot){
		.bytes = r->bytes + at * r->slot_bytes,
		.n = atomic_load_explicit(&c->entry[at].n, memory_order_relaxed),
		.first = atomic_load_explicit(&c->entry[at].first, memory_order_relaxed),
		.at_us = atomic_load_explicit(&c->entry[at].at_us, memory_order_relaxed),
		.gap = atomic_load_explicit(&c->entry[at].gap, memory_order_relaxed) != 0,
	};
	if (!makes_sense(r, out))
		return RING_NONSENSE;
	r->held = *out;
	return RING_SLOT;
}

int64_t ring_begun_us(const struct ring *r)
{
	return atomic_load_explicit(&r->common->begun_us, memory_order_relaxed);
}

void ring_release(struct ring *r)
{
	if (r->held.n == 0)
		return;
	r->expected = r->held.first + (int64_t)r->held.n;
	r->last_us = r->held.at_us;
	r->held.n = 0;
	atomic_store_explicit(&r->common->released, ++r->released, memory_order_release);
}
