#include "daemon/dongle/stream.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/dongle/pace.h"

/* After the call that tunes has returned. What is left to settle is little: the library
 * has read the synthesiser's lock several transfers before (and says so when there is
 * none), and the narrowest filter, 0.35 MHz wide, rings for some ten microseconds: 1 ms
 * for both is common practice. And the clock of the stream is behind the truth by what
 * the promptest delivery takes from the converter to the reader: some microframes and
 * what the chip holds, 2 KiB at the most, together 0.5 ms. */
#define SETTLE_US   1500
#define MAP_US      60000000    /* how often monotonic time is mapped to UTC       */
#define SHARE_MIN   0.95        /* of the bytes due in 10 s; below it some fall out */
#define SLOTS_AT_ONCE 1024
#define BYTES_A_US  8           /* more than any dongle's: the fastest make 6.4    */

struct stream {
	struct ring *ring;      /* borrowed; NULL: none                              */
	int64_t      since_us;  /* its putter was begun                              */
	struct pace  pace;
	bool         held;      /* all is stale                                      */
	bool         odd;       /* the pace is of another rate                       */
	int64_t      through;   /* what began before this byte is stale              */
	int          stale;     /* deliveries after it to drop whole                 */
	int64_t      fresh_us;  /* not 0: what was received before this is not wanted */
	int64_t      tuned_us;  /* not 0: tuned then, and nothing wanted came since   */
	struct slot  slot;      /* in hand, used bytes of it used up                 */
	size_t       used;
	bool         holding;   /* a slot                                            */
	int64_t      end;       /* byte after the last slot                          */
	bool         gap;       /* before or in the block being made                 */
	uint8_t     *iq;
	size_t       room, have, want;  /* bytes of iq                               */
	int64_t      mono_us;   /* when its first sample was received                */
	int64_t      heard_us;
	double       share;
	int64_t      utc_us;    /* UTC less monotonic time                           */
	int64_t      mapped_us; /* when that was seen                                */
	struct stream_counts counts;
};

struct stream *stream_create(void)
{
	return calloc(1, sizeof(struct stream));
}

void stream_destroy(struct stream *s)
{
	if (!s)
		return;
	free(s->iq);
	free(s);
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

int64_t stream_heard_us(const struct stream *s)
{
	return s->heard_us;
}

double stream_share(const struct stream *s)
{
	return s->share;
}

struct stream_counts stream_counts(const struct stream *s)
{
	return s->counts;
}

/* ---- what is not wanted ---- */

/* The block being made begins again. */
static void forget(struct stream *s)
{
	s->counts.stale += (int64_t)s->have;
	s->have = s->want = 0;
	s->gap = false;
	s->heard_us = 0;
}

static void put_down(struct stream *s)
{
	if (s->holding)
		ring_release(s->ring);
	s->holding = false;
}

void stream_attach(struct stream *s, struct ring *ring, int64_t since_us)
{
	forget(s);
	s->holding = false;
	s->ring = ring;
	s->since_us = since_us;
	s->end = 0;
	s->held = true;
	pace_reset(&s->pace, 0);
}

/* At another rate what is still under way tells nothing of the new one's pace. */
void stream_hold(struct stream *s, int32_t rate_hz)
{
	bool other = rate_hz != s->pace.rate_hz;

	if (s->holding && s->have == 0 && s->used < s->slot.n) {
		s->counts.tail += (int64_t)(s->slot.n - s->used);
		s->counts.stale += (int64_t)(s->slot.n - s->used);
	}
	s->tuned_us = 0;
	forget(s);
	put_down(s);
	s->held = true;
	s->odd = other && s->end > 0;
	if (other)
		pace_reset(&s->pace, rate_hz);
}

void stream_fresh(struct stream *s, int64_t put, int64_t at_us)
{
	forget(s);
	put_down(s);
	if (s->odd)
		pace_reset(&s->pace, s->pace.rate_hz);
	s->held = s->odd = false;
	s->through = put;
	s->stale = 1;
	s->fresh_us = at_us + SETTLE_US;
	s->tuned_us = at_us;
}

void stream_rested(struct stream *s)
{
	forget(s);
	put_down(s);
	s->stale = 1;
	s->fresh_us = stream_now_us();
}

/* Marks the stale part of the slot in hand as used; false when that is all of it. */
static bool trim(struct stream *s)
{
	if (s->held || s->slot.first < s->through || !pace_settled(&s->pace))
		return false;
	if (s->stale > 0) {
		s->stale--;
		return false;
	}
	if (s->fresh_us == 0)
		return true;
	if (pace_not_before(&s->pace, s->slot.first + (int64_t)s->slot.n) <= s->fresh_us)
		return false;
	/* No more than the slot lasts. */
	int64_t old_us = s->fresh_us - pace_not_before(&s->pace, s->slot.first);
	int64_t bytes = old_us < 0 ? 0 : 2 * (old_us * s->pace.rate_hz / 1000000 + 1);
	if (bytes >= (int64_t)s->slot.n)
		return false;
	s->used = (size_t)bytes;
	s->counts.stale += bytes;
	s->fresh_us = 0;
	s->gap = false;         /* what was lost before was not wanted */
	return true;
}

/* ---- what is ---- */

/* Of the first slot: its ring may know since when. */
static void begin_pace(struct stream *s)
{
	int64_t begun_us = ring_begun_us(s->ring);

	if (begun_us > 0 && begun_us >= s->since_us && begun_us <= s->slot.at_us)
		pace_begin(&s->pace, begun_us);
}

/* Who puts may say what it likes: what is added to sums, or shown as a time, must have been
 * possible. */
static bool can_be(const struct stream *s)
{
	int64_t at_us = s->slot.at_us, end = s->slot.first + (int64_t)s->slot.n;

	return at_us <= stream_now_us() && end / BYTES_A_US <= at_us - s->since_us;
}

/* Looks at the next slot. */
static enum stream_result next_slot(struct stream *s)
{
	enum ring_result r = ring_take(s->ring, &s->slot);

	if (r == RING_EMPTY) {
		ring_hush(s->ring);
		r = ring_take(s->ring, &s->slot);
	}
	if (r != RING_SLOT)
		return r == RING_EMPTY ? STREAM_LATER :
		       r == RING_ENDED ? STREAM_ENDED :
					 STREAM_NONSENSE;
	if (!can_be(s))
		return STREAM_NONSENSE;
	s->holding = true;
	s->used = 0;
	if (s->end == 0)
		begin_pace(s);
	int64_t end = s->slot.first + (int64_t)s->slot.n, lost = s->slot.first - s->end;
	s->end = end;
	if (s->pace.rate_hz == 0)
		return STREAM_BLOCK;
	if (!s->held && s->stale == 0 && s->fresh_us == 0)
		s->counts.lost += lost;
	s->gap |= pace_feed(&s->pace, end, s->slot.at_us) || s->slot.gap;
	double share = pace_share(&s->pace, end, s->slot.at_us);
	if (share >= SHARE_MIN)
		return STREAM_BLOCK;
	s->share = share;
	return STREAM_THIN;
}

/* Takes the next slot that holds anything wanted. No more of them than a ring
 * has, so that no flood keeps the caller here. */
static enum stream_result next_delivery(struct stream *s)
{
	for (int i = 0; i < SLOTS_AT_ONCE; i++) {
		put_down(s);
		enum stream_result r = next_slot(s);
		if (r != STREAM_BLOCK || trim(s))
			return r;
		s->counts.stale += (int64_t)s->slot.n;
	}
	put_down(s);
	return STREAM_LATER;
}

/* Copies what there is and fits. A delivery may be of any length, so I is told
 * from Q by counting. */
static void copy_some(struct stream *s)
{
	if ((s->slot.first + (int64_t)s->used - (int64_t)s->have) & 1)
		s->used++;
	size_t there = s->used < s->slot.n ? s->slot.n - s->used : 0;
	size_t n = there < s->want - s->have ? there : s->want - s->have;

	if (s->have == 0)
		s->mono_us = pace_at(&s->pace, s->slot.first + (int64_t)s->used);
	if (s->tuned_us != 0)
		s->counts.settling_us += s->mono_us - s->tuned_us;
	s->tuned_us = 0;
	memcpy(s->iq + s->have, s->slot.bytes + s->used, n);
	s->used += n;
	s->have += n;
	s->heard_us = stream_now_us();
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

static int make_room(struct stream *s, size_t bytes)
{
	uint8_t *more = bytes > s->room ? realloc(s->iq, bytes) : s->iq;

	if (!more)
		return -1;
	s->iq = more;
	s->room = bytes > s->room ? bytes : s->room;
	return 0;
}

/* Another length than the block being made was to have: begins again. */
static void want(struct stream *s, size_t bytes)
{
	if (s->want != bytes && s->have > 0)
		s->counts.stale += (int64_t)s->have;
	if (s->want != bytes)
		s->have = 0;
	s->want = bytes;
}

enum stream_result stream_read(struct stream *s, size_t n, struct block *out)
{
	if (make_room(s, 2 * n) < 0)
		return STREAM_NO_MEMORY;
	want(s, 2 * n);
	while (s->have < s->want) {
		enum stream_result r =
			s->holding && s->used < s->slot.n ? STREAM_BLOCK : next_delivery(s);
		if (r != STREAM_BLOCK)
			return r;
		copy_some(s);
	}
	*out = (struct block){
		.iq = s->iq, .format = SAMPLE_CU8, .n = n, .rate_hz = s->pace.rate_hz,
		.start_us = utc_at(s, s->mono_us), .mono_us = s->mono_us, .gap = s->gap,
	};
	s->counts.taken += (int64_t)s->have;
	s->counts.gaps += s->gap;
	s->gap = false;
	s->have = s->want = 0;
	return STREAM_BLOCK;
}
