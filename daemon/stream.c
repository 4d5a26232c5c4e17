#include "daemon/stream.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/pace.h"

/* Four megabytes: the reader of blocks may sleep 0.87 s at 2.4 MS/s. */
#define SLOTS       64
#define SLOT_BYTES  65536

#define WATCHDOG_US 1000000     /* five deliveries of 64 KiB at the lowest rate    */
#define MAP_US      60000000    /* how often monotonic time is mapped to UTC       */
#define SHARE_MIN   0.95        /* of the bytes due in 10 s; below it some fall out */

struct stream {
	char         name[80];
	struct ring *ring;
	struct pace  pace;
	int64_t      fresh_us;  /* not 0: what was received before this is not wanted */
	int          stale;     /* deliveries to drop whole                          */
	struct slot  slot;      /* in hand, used bytes of it used up                 */
	size_t       used;
	bool         holding;
	bool         gap;       /* before the next block                             */
	uint8_t     *iq;
	size_t       room;      /* bytes of iq                                       */
	int64_t      utc_us;    /* UTC less monotonic time                           */
	int64_t      mapped_us; /* when that was seen                                */
};

struct stream *stream_create(const char *name)
{
	struct stream *s = calloc(1, sizeof *s);

	if (!s)
		return NULL;
	snprintf(s->name, sizeof s->name, "%s", name);
	s->ring = ring_create(SLOTS, SLOT_BYTES);
	if (!s->ring)
		goto fail;
	return s;
fail:
	stream_destroy(s);
	return NULL;
}

void stream_destroy(struct stream *s)
{
	if (!s)
		return;
	ring_destroy(s->ring);
	stream_leave(s);
}

void stream_leave(struct stream *s)
{
	if (!s)
		return;
	free(s->iq);
	free(s);
}

struct ring *stream_ring(struct stream *s)
{
	return s->ring;
}

void stream_rate(struct stream *s, int32_t rate_hz)
{
	pace_reset(&s->pace, rate_hz);
}

static int64_t clock_us(clockid_t id)
{
	struct timespec t;
	clock_gettime(id, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

int64_t stream_now_us(void)
{
	return clock_us(CLOCK_MONOTONIC);
}

void stream_drop(struct stream *s, int deliveries, int64_t settle_us)
{
	ring_clear(s->ring);
	s->holding = false;
	s->gap = false;
	s->stale = deliveries;
	s->fresh_us = stream_now_us() + settle_us;
}

/* Marks the stale part of the delivery in hand as used; false when that is all
 * of it. */
static bool trim(struct stream *s)
{
	int64_t old_us = s->fresh_us - pace_at(&s->pace, s->slot.first);
	int64_t bytes = old_us < 0 ? 0 : 2 * (old_us * s->pace.rate_hz / 1000000 + 1);

	if (s->stale > 0) {
		s->stale--;
		return false;
	}
	if (s->fresh_us == 0)
		return true;
	if (bytes >= (int64_t)s->slot.n)
		return false;
	s->used = (size_t)bytes;
	s->fresh_us = 0;
	s->gap = false;         /* what was lost before was not wanted */
	return true;
}

static int stalled(const struct stream *s, enum ring_result r, struct fault *why)
{
	if (r == RING_ENDED)
		return fault_set(why, FAULT_RETRY, "%s: it vanished, plug it in again", s->name);
	return fault_set(why, FAULT_RETRY,
			 "%s: no samples for 1 s, unplug it for ten seconds and try another port",
			 s->name);
}

static int check_share(struct stream *s, int64_t end, struct fault *why)
{
	double share = pace_share(&s->pace, end, s->slot.at_us);

	if (share >= SHARE_MIN)
		return 0;
	return fault_set(why, FAULT_RETRY,
			 "%s: only %.0f %% of its samples arrive, try another port or cable",
			 s->name, 100 * share);
}

/* Takes the next delivery that holds anything wanted. */
static int next_delivery(struct stream *s, struct fault *why)
{
	do {
		if (s->holding)
			ring_release(s->ring);
		s->holding = false;
		enum ring_result r = ring_take(s->ring, WATCHDOG_US, &s->slot);
		if (r != RING_SLOT)
			return stalled(s, r, why);
		int64_t end = s->slot.first + (int64_t)s->slot.n;
		s->holding = true;
		s->used = 0;
		s->gap |= pace_feed(&s->pace, end, s->slot.at_us) || s->slot.gap;
		if (check_share(s, end, why) < 0)
			return -1;
	} while (!trim(s));
	return 0;
}

/* Copies up to want bytes behind the have there are. A delivery may be of any
 * length, so I is told from Q by counting. */
static size_t copy_some(struct stream *s, size_t have, size_t want)
{
	if ((s->slot.first + (int64_t)s->used - (int64_t)have) & 1)
		s->used++;
	size_t there = s->used < s->slot.n ? s->slot.n - s->used : 0;
	size_t n = there < want ? there : want;

	memcpy(s->iq + have, s->slot.bytes + s->used, n);
	s->used += n;
	return n;
}

static int64_t utc_at(struct stream *s, int64_t mono_us)
{
	int64_t before_us = stream_now_us();

	if (s->mapped_us == 0 || before_us - s->mapped_us > MAP_US) {
		int64_t utc_us = clock_us(CLOCK_REALTIME);
		s->utc_us = utc_us - (before_us + stream_now_us()) / 2;
		s->mapped_us = before_us;
	}
	return mono_us + s->utc_us;
}

static int make_room(struct stream *s, size_t bytes, struct fault *why)
{
	if (bytes <= s->room)
		return 0;
	uint8_t *more = realloc(s->iq, bytes);
	if (!more)
		return fault_set(why, FAULT_RETRY, "%s: no memory for %zu bytes", s->name, bytes);
	s->iq = more;
	s->room = bytes;
	return 0;
}

int stream_read(struct stream *s, size_t n, struct block *out, struct fault *why)
{
	size_t have = 0, want = 2 * n;
	int64_t mono_us = 0;

	if (make_room(s, want, why) < 0)
		return -1;
	while (have < want) {
		if ((!s->holding || s->used >= s->slot.n) && next_delivery(s, why) < 0)
			return -1;
		size_t got = copy_some(s, have, want - have);
		if (have == 0)
			mono_us = pace_at(&s->pace, s->slot.first + (int64_t)(s->used - got));
		have += got;
	}
	*out = (struct block){
		.iq = s->iq, .format = SAMPLE_CU8, .n = n, .rate_hz = s->pace.rate_hz,
		.start_us = utc_at(s, mono_us), .mono_us = mono_us, .gap = s->gap,
	};
	s->gap = false;
	return 0;
}
