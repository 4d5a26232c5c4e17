#include "daemon/ring.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

struct entry {
	size_t  n;
	int64_t first, at_us;
	bool    gap;
};

/* Slots [head, head + used) hold bytes. The putter writes the bytes of the slot
 * behind them without the lock: nobody else looks there until used counts it. */
struct ring {
	pthread_mutex_t lock;
	pthread_cond_t  news;
	size_t          slots, slot_bytes;
	uint8_t        *bytes;
	struct entry   *entry;
	size_t          head, used;
	int64_t         put, lost;
	bool            gap;            /* for the next slot filled */
	bool            ended;
};

struct ring *ring_create(size_t slots, size_t slot_bytes)
{
	pthread_condattr_t steady;
	struct ring *r = calloc(1, sizeof *r);

	if (!r)
		return NULL;
	r->slots = slots;
	r->slot_bytes = slot_bytes;
	pthread_mutex_init(&r->lock, NULL);
	pthread_condattr_init(&steady);
	pthread_condattr_setclock(&steady, CLOCK_MONOTONIC);
	pthread_cond_init(&r->news, &steady);
	pthread_condattr_destroy(&steady);
	r->bytes = calloc(slots, slot_bytes);
	r->entry = calloc(slots, sizeof *r->entry);
	if (!r->bytes || !r->entry)
		goto fail;
	return r;
fail:
	ring_destroy(r);
	return NULL;
}

void ring_destroy(struct ring *r)
{
	if (!r)
		return;
	pthread_cond_destroy(&r->news);
	pthread_mutex_destroy(&r->lock);
	free(r->entry);
	free(r->bytes);
	free(r);
}

/* The slot to fill next, or -1 when all are full. */
static ptrdiff_t free_slot(struct ring *r)
{
	ptrdiff_t at = -1;

	pthread_mutex_lock(&r->lock);
	if (r->used < r->slots)
		at = (ptrdiff_t)((r->head + r->used) % r->slots);
	pthread_mutex_unlock(&r->lock);
	return at;
}

static void put_one(struct ring *r, const uint8_t *bytes, size_t n, int64_t at_us)
{
	ptrdiff_t at = free_slot(r);

	if (at >= 0)
		memcpy(r->bytes + (size_t)at * r->slot_bytes, bytes, n);
	pthread_mutex_lock(&r->lock);
	if (at >= 0) {
		r->entry[at] = (struct entry){ n, r->put, at_us, r->gap };
		r->used++;
		pthread_cond_broadcast(&r->news);
	} else {
		r->lost += (int64_t)n;
	}
	r->gap = at < 0;
	r->put += (int64_t)n;
	pthread_mutex_unlock(&r->lock);
}

void ring_put(struct ring *r, const uint8_t *bytes, size_t n, int64_t at_us)
{
	while (n > 0) {
		size_t part = n < r->slot_bytes ? n : r->slot_bytes;
		put_one(r, bytes, part, at_us);
		bytes += part;
		n -= part;
	}
}

void ring_end(struct ring *r)
{
	pthread_mutex_lock(&r->lock);
	r->ended = true;
	pthread_cond_broadcast(&r->news);
	pthread_mutex_unlock(&r->lock);
}

static struct timespec in_future(int64_t us)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	us += t.tv_nsec / 1000;
	t.tv_sec += (time_t)(us / 1000000);
	t.tv_nsec = (long)(us % 1000000 * 1000);
	return t;
}

enum ring_result ring_take(struct ring *r, int64_t wait_us, struct slot *out)
{
	struct timespec until = in_future(wait_us);
	enum ring_result result = RING_LATE;
	int late = 0;

	pthread_mutex_lock(&r->lock);
	while (r->used == 0 && !r->ended && !late)
		late = pthread_cond_timedwait(&r->news, &r->lock, &until);
	if (r->used > 0) {
		const struct entry *e = &r->entry[r->head];
		*out = (struct slot){r->bytes + r->head * r->slot_bytes, e->n, e->first, e->at_us,
				     e->gap};
		result = RING_SLOT;
	} else if (r->ended) {
		result = RING_ENDED;
	}
	pthread_mutex_unlock(&r->lock);
	return result;
}

void ring_release(struct ring *r)
{
	pthread_mutex_lock(&r->lock);
	if (r->used > 0) {
		r->head = (r->head + 1) % r->slots;
		r->used--;
	}
	pthread_mutex_unlock(&r->lock);
}

/* head must move past what is dropped, never backwards: the putter may be
 * filling the slot behind it. */
void ring_clear(struct ring *r)
{
	pthread_mutex_lock(&r->lock);
	r->head = (r->head + r->used) % r->slots;
	r->used = 0;
	r->gap = false;
	pthread_mutex_unlock(&r->lock);
}

bool ring_wait_end(struct ring *r, int64_t wait_us)
{
	struct timespec until = in_future(wait_us);
	bool ended;
	int late = 0;

	pthread_mutex_lock(&r->lock);
	while (!r->ended && !late)
		late = pthread_cond_timedwait(&r->news, &r->lock, &until);
	ended = r->ended;
	pthread_mutex_unlock(&r->lock);
	return ended;
}

int64_t ring_lost(struct ring *r)
{
	pthread_mutex_lock(&r->lock);
	int64_t lost = r->lost;
	pthread_mutex_unlock(&r->lock);
	return lost;
}
