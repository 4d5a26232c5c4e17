#include "tests/dongle/pipe.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/dongle/clock.h"
#include "tests/dongle/timeline.h"

#define FLIGHTS     256
#define FIFO_BYTES  2048        /* kept by the chip while no transfer is there         */
#define FRESH_US    50000       /* of what was leapt over so much is worked out again  */
#define KEPT_BYTES  262144      /* handed out instead of what is old                   */
#define AT_ONCE     16          /* completions handed out before events are looked at again */
#define USBFS_BYTES (16 << 20)  /* the kernel's limit for all transfers together       */

/* A transfer on its way. When it was long in coming, the chip's FIFO holds bytes
 * that are older than the others. */
struct flight {
	struct libusb_transfer *t;
	bool    placed;         /* the rest is known                               */
	int64_t old, n_old;     /* first so many bytes from there ...              */
	int64_t first, n;       /* ... then n from there                           */
	bool    cancelled;
	int64_t late_us;        /* when cancelled: completes then                  */
};

struct pipe {
	struct state        *state;
	int                  dongle;
	struct device_state *device;
	struct timeline      timeline;
	pthread_mutex_t      lock;
	struct flight        flights[FLIGHTS];  /* oldest first                    */
	int                  n_flights;
	int64_t              end;               /* behind the last byte placed     */
	bool                 running, silent;
	int64_t              thread_us;         /* how far the serving thread got  */
	uint8_t              kept[KEPT_BYTES];
	size_t               n_kept;
};

/* How the mischief of transfers ends them. */
static const struct {
	enum mischief_kind          kind;
	enum libusb_transfer_status status;
} endings[] = {
	{ MISCHIEF_ERROR, LIBUSB_TRANSFER_ERROR },
	{ MISCHIEF_TIMEOUT, LIBUSB_TRANSFER_TIMED_OUT },
	{ MISCHIEF_STALL, LIBUSB_TRANSFER_STALL },
	{ MISCHIEF_OVERFLOW, LIBUSB_TRANSFER_OVERFLOW },
};

struct pipe *pipe_create(struct state *s, int dongle)
{
	struct pipe *p = calloc(1, sizeof *p);

	if (!p)
		return NULL;
	p->state = s;
	p->dongle = dongle;
	p->device = &s->dongles[dongle];
	p->device->in_flight = 0;
	pthread_mutex_init(&p->lock, NULL);
	timeline_begin(&p->timeline, s, dongle);
	return p;
}

void pipe_destroy(struct pipe *p)
{
	if (!p)
		return;
	p->device->in_flight = 0;
	timeline_end(&p->timeline);
	pthread_mutex_destroy(&p->lock);
	free(p);
}

/* ---- which bytes go where ---- */

static double value_of(struct pipe *p, enum mischief_kind kind, double otherwise)
{
	const struct mischief *m = mischief_use(p->state, p->dongle, kind);
	return m ? m->value : otherwise;
}

/* Behind what is placed already, or what comes from now on. */
static void place(struct pipe *p, struct flight *f, int64_t now_us)
{
	int64_t now = timeline_byte(&p->timeline, now_us), length = f->t->length;
	bool late = now - p->end > FIFO_BYTES;
	int64_t dropped = (int64_t)value_of(p, MISCHIEF_DROP, 0) & ~INT64_C(1);
	double most = value_of(p, MISCHIEF_SHORT, (double)length);

	if (mischief_use(p->state, p->dongle, MISCHIEF_EMPTY))
		most = 0;
	length = most < (double)length ? (int64_t)most : length;
	f->old = p->end;
	f->n_old = late ? (length < FIFO_BYTES ? length : FIFO_BYTES) : 0;
	f->first = (late ? now + (p->end + f->n_old) % 2 : p->end) + dropped;
	f->n = length - f->n_old;
	f->placed = true;
	p->device->count.dropped_bytes += dropped;
	if (late)
		p->device->count.lost_bytes += f->first - dropped - p->end - f->n_old;
	p->end = f->first + f->n;
}

/* All that waits gets what comes from now on. */
static void place_anew(struct pipe *p, int64_t now_us)
{
	p->end = timeline_byte(&p->timeline, now_us);
	for (int i = 0; i < p->n_flights; i++)
		place(p, &p->flights[i], now_us);
}

void pipe_registers(struct pipe *p)
{
	pthread_mutex_lock(&p->lock);
	timeline_registers(&p->timeline, clock_shown_us(p->state));
	const struct reception *r = &p->device->now;
	bool running = r->running && r->rate_hz > 0 && timeline_prepare(&p->timeline) == 0;
	int64_t now = clock_shown_us(p->state);
	if (running && !p->running)
		place_anew(p, now);
	p->running = running;
	pthread_mutex_unlock(&p->lock);
}

/* ---- transfers come and go ---- */

static int index_of(const struct pipe *p, const struct libusb_transfer *t)
{
	for (int i = 0; i < p->n_flights; i++)
		if (p->flights[i].t == t)
			return i;
	return -1;
}

static struct flight take_out(struct pipe *p, int i)
{
	struct flight f = p->flights[i];

	p->n_flights--;
	memmove(p->flights + i, p->flights + i + 1,
		(size_t)(p->n_flights - i) * sizeof p->flights[0]);
	p->device->in_flight -= f.t->length;
	return f;
}

static int64_t all_in_flight(const struct state *s)
{
	int64_t all = 0;

	for (int i = 0; i < s->scenario.n_dongles; i++)
		all += s->dongles[i].in_flight;
	return all;
}

int pipe_submit(struct pipe *p, struct libusb_transfer *t)
{
	int r = LIBUSB_ERROR_BUSY;

	if (all_in_flight(p->state) + t->length > USBFS_BYTES)
		return LIBUSB_ERROR_NO_MEM;
	pthread_mutex_lock(&p->lock);
	if (p->n_flights < FLIGHTS && index_of(p, t) < 0) {
		struct flight *f = &p->flights[p->n_flights++];
		*f = (struct flight){ .t = t };
		p->device->in_flight += t->length;
		if (p->running)
			place(p, f, clock_shown_us(p->state));
		r = 0;
	}
	pthread_mutex_unlock(&p->lock);
	return r;
}

int pipe_cancel(struct pipe *p, struct libusb_transfer *t)
{
	const struct mischief *late = mischief_now(p->state, p->dongle, MISCHIEF_LATE_CANCEL);
	int r = LIBUSB_ERROR_NOT_FOUND;

	pthread_mutex_lock(&p->lock);
	int i = index_of(p, t);
	if (i >= 0 && !p->flights[i].cancelled) {
		p->flights[i].cancelled = true;
		p->flights[i].late_us = state_now_us(p->state) +
					(late ? llround(late->value * 1e3) : 0);
		p->device->count.cancels++;
		r = 0;
	}
	pthread_mutex_unlock(&p->lock);
	return r;
}

bool pipe_forget(struct pipe *p, struct libusb_transfer *t)
{
	pthread_mutex_lock(&p->lock);
	int i = index_of(p, t);
	if (i >= 0) {
		take_out(p, i);
		p->device->count.freed_in_flight++;
	}
	pthread_mutex_unlock(&p->lock);
	return i >= 0;
}

/* ---- completion ---- */

/* While it is silent nothing gets through; then what comes from there on. */
static bool is_silent(struct pipe *p, int64_t now_us)
{
	bool silent = mischief_now(p->state, p->dongle, MISCHIEF_SILENCE);

	if (!silent && p->silent && p->running)
		place_anew(p, now_us);
	p->silent = silent;
	if (silent)
		p->device->served_us = now_us;
	return silent;
}

static int64_t due_us(struct pipe *p, const struct flight *f)
{
	if (f->cancelled)
		return f->late_us;
	if (p->silent || !p->running || !f->placed)
		return INT64_MAX;
	return timeline_us(&p->timeline, f->first + f->n);
}

int64_t pipe_due_us(struct pipe *p)
{
	int64_t due = INT64_MAX;

	pthread_mutex_lock(&p->lock);
	for (int i = 0; i < p->n_flights; i++)
		if ((i == 0 || p->flights[i].cancelled) && due_us(p, &p->flights[i]) < due)
			due = due_us(p, &p->flights[i]);
	pthread_mutex_unlock(&p->lock);
	return due;
}

/* The next to complete, taken out; false: none now. */
static bool take_due(struct pipe *p, bool gone, struct flight *out, int64_t *due)
{
	int64_t now = state_now_us(p->state);
	bool found = false;

	pthread_mutex_lock(&p->lock);
	if (!gone)
		is_silent(p, now);
	for (int i = 0; i < p->n_flights && !found; i++) {
		if (!gone && i > 0 && !p->flights[i].cancelled)
			continue;
		*due = gone ? now : due_us(p, &p->flights[i]);
		if (*due > now)
			continue;
		*out = take_out(p, i);
		found = true;
	}
	pthread_mutex_unlock(&p->lock);
	return found;
}

/* Whoever leapt was not listening. */
static bool leapt_over(const struct state *s, int64_t due_us)
{
	return due_us > s->leapt_from_us + FRESH_US && due_us < s->leapt_to_us - FRESH_US;
}

/* Of what nobody listens to a transfer keeps what it brought last time, or gets what
 * the first one brought. */
static void fill(struct pipe *p, const struct flight *f, bool unheard)
{
	size_t length = (size_t)(f->n_old + f->n);
	bool empty = length == 0 || (f->t->buffer[0] == 0 && f->t->buffer[length / 2] == 0);

	if (unheard && p->n_kept > 0 && !p->device->counting) {
		for (size_t i = 0; empty && i < length; i += p->n_kept)
			memcpy(f->t->buffer + i, p->kept,
			       length - i < p->n_kept ? length - i : p->n_kept);
		p->device->count.skipped_bytes += (int64_t)length;
		return;
	}
	timeline_fill(&p->timeline, f->old, f->t->buffer, (size_t)f->n_old);
	timeline_fill(&p->timeline, f->first, f->t->buffer + f->n_old, (size_t)f->n);
	if (p->n_kept == 0 && length >= 2) {
		p->n_kept = (length < KEPT_BYTES ? length : KEPT_BYTES) & ~(size_t)1;
		memcpy(p->kept, f->t->buffer, p->n_kept);
	}
}

static enum libusb_transfer_status ending(struct pipe *p)
{
	for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++)
		if (mischief_use(p->state, p->dongle, endings[i].kind))
			return endings[i].status;
	return LIBUSB_TRANSFER_COMPLETED;
}

/* Its callback's clocks show when it fell due. */
static void complete(struct pipe *p, const struct flight *f, bool gone, int64_t due)
{
	struct libusb_transfer *t = f->t;

	t->status = gone ? LIBUSB_TRANSFER_NO_DEVICE :
		    f->cancelled ? LIBUSB_TRANSFER_CANCELLED : ending(p);
	t->actual_length = 0;
	if (t->status == LIBUSB_TRANSFER_COMPLETED) {
		t->actual_length = (int)(f->n_old + f->n);
		fill(p, f, leapt_over(p->state, due));
		p->device->count.bytes += t->actual_length;
	}
	p->device->count.transfers++;
	p->thread_us = due > p->thread_us ? due : p->thread_us;
	clock_show_us(p->thread_us);
	t->callback(t);
	p->thread_us = clock_shown_us(p->state);
	clock_show_us(0);
	p->device->served_us = due;
}

int pipe_serve(struct pipe *p, bool gone)
{
	struct flight f;
	int64_t due;
	int n = 0;

	while (n < AT_ONCE && take_due(p, gone, &f, &due)) {
		complete(p, &f, gone, due);
		n++;
	}
	return n;
}
