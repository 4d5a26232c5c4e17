#include "tests/dongle/timeline.h"

#include <math.h>
#include <string.h>

#define REBASE_US 1e6           /* the crystal drifts: counted from afresh so often    */
#define SETTLE_HZ 300e3         /* so far off the synthesiser is before it has settled */

void timeline_begin(struct timeline *t, struct state *s, int dongle)
{
	memset(t, 0, sizeof *t);
	t->state = s;
	t->dongle = dongle;
	pthread_mutex_init(&t->lock, NULL);
	pthread_mutex_init(&t->filling, NULL);
	timeline_registers(t, state_now_us(s));
}

int timeline_prepare(struct timeline *t)
{
	pthread_mutex_lock(&t->filling);
	if (!t->samples)
		t->samples = samples_create(t->state, t->dongle);
	if (t->samples)
		samples_prepare(t->samples, &t->state->dongles[t->dongle].now);
	pthread_mutex_unlock(&t->filling);
	return t->samples ? 0 : -1;
}

void timeline_end(struct timeline *t)
{
	samples_destroy(t->samples);
	pthread_mutex_destroy(&t->filling);
	pthread_mutex_destroy(&t->lock);
}

/* ---- time ---- */

static int64_t byte_at(const struct timeline *t, double us)
{
	return (t->base + llround((us - t->base_us) * t->bytes_us)) & ~INT64_C(1);
}

static double us_at(const struct timeline *t, int64_t byte)
{
	return t->bytes_us > 0 ? t->base_us + (double)(byte - t->base) / t->bytes_us : t->base_us;
}

/* Counts on from the byte of now, at another rate or with the crystal as it is now. */
static void rebase(struct timeline *t, int64_t now_us, double rate_hz)
{
	double ppm = state_crystal_ppm(t->state, t->dongle, now_us);
	int64_t byte = byte_at(t, (double)now_us);

	t->base_us = t->bytes_us > 0 ? us_at(t, byte) : (double)now_us;
	t->base = byte;
	t->bytes_us = 2 * rate_hz * (1 + ppm * 1e-6) * 1e-6;
}

int64_t timeline_us(struct timeline *t, int64_t byte)
{
	pthread_mutex_lock(&t->lock);
	int64_t us = (int64_t)ceil(us_at(t, byte));
	pthread_mutex_unlock(&t->lock);
	return us;
}

int64_t timeline_byte(struct timeline *t, int64_t us)
{
	pthread_mutex_lock(&t->lock);
	int64_t byte = byte_at(t, (double)us);
	if (t->n_epochs > 0 && (double)us - t->base_us > REBASE_US)
		rebase(t, us, t->epochs[t->n_epochs - 1].r.rate_hz);
	pthread_mutex_unlock(&t->lock);
	return byte;
}

/* ---- registers ---- */

static struct reception read_registers(const struct device_state *d)
{
	return (struct reception){
		.lo_hz = tuner_lo_hz(&d->tuner), .if_hz = chip_if_hz(&d->chip),
		.rate_hz = chip_rate_hz(&d->chip), .gain_db = tuner_gain_db(&d->tuner),
		.locked = tuner_locked(&d->tuner), .upright = chip_upright(&d->chip),
		.counting = chip_counting(&d->chip), .running = chip_running(&d->chip),
	};
}

static bool same(const struct reception *a, const struct reception *b)
{
	return a->lo_hz == b->lo_hz && a->if_hz == b->if_hz && a->rate_hz == b->rate_hz &&
	       a->gain_db == b->gain_db && a->locked == b->locked && a->upright == b->upright &&
	       a->counting == b->counting && a->running == b->running;
}

/* What was to come later has been overtaken. */
static void add(struct timeline *t, int64_t from, const struct reception *r)
{
	while (t->n_epochs > 0 && t->epochs[t->n_epochs - 1].from >= from)
		t->n_epochs--;
	if (t->n_epochs == EPOCHS) {
		t->n_epochs--;
		memmove(t->epochs, t->epochs + 1, (EPOCHS - 1) * sizeof t->epochs[0]);
	}
	t->epochs[t->n_epochs++] = (struct epoch){ from, *r };
}

void timeline_registers(struct timeline *t, int64_t now_us)
{
	struct device_state *d = &t->state->dongles[t->dongle];
	struct reception was = d->now, r = read_registers(d);

	if (t->n_epochs > 0 && same(&r, &was))
		return;
	pthread_mutex_lock(&t->lock);
	if (t->n_epochs == 0 || r.rate_hz != was.rate_hz)
		rebase(t, now_us, r.rate_hz);
	int64_t from = byte_at(t, (double)now_us);
	int64_t settled = byte_at(t, (double)now_us + t->state->scenario.settle_us);
	if (r.lo_hz != was.lo_hz && settled > from) {
		struct reception elsewhere = r;
		elsewhere.lo_hz += SETTLE_HZ;
		add(t, from, &elsewhere);
		from = settled;
	}
	add(t, from, &r);
	pthread_mutex_unlock(&t->lock);
	d->now = r;
	d->counting = r.counting;
	d->running = r.running;
}

/* The epoch of a byte, and where it ends. */
static struct reception epoch_of(struct timeline *t, int64_t at, int64_t *end)
{
	pthread_mutex_lock(&t->lock);
	int i = t->n_epochs - 1;
	for (; i > 0 && t->epochs[i].from > at; i--)
		;
	struct reception r = t->epochs[i].r;
	*end = i + 1 < t->n_epochs ? t->epochs[i + 1].from : INT64_MAX;
	pthread_mutex_unlock(&t->lock);
	return r;
}

void timeline_fill(struct timeline *t, int64_t at, uint8_t *out, size_t n)
{
	pthread_mutex_lock(&t->filling);
	while (n > 0) {
		int64_t end;
		struct reception r = epoch_of(t, at, &end);
		size_t some = end - at < (int64_t)n ? (size_t)(end - at) : n;
		samples_fill(t->samples, &r, at, timeline_us(t, at), out, some);
		at += (int64_t)some;
		out += some;
		n -= some;
	}
	pthread_mutex_unlock(&t->filling);
}
