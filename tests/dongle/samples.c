#include "tests/dongle/samples.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/town/air.h"
#include "dsp/dice.h"
#include "tests/dongle/clock.h"

#define DEAF_DB      -100.0     /* a gain at which the converter alone is heard */
#define PAIRS        4096       /* worked out at a time                         */
#define HISS         65536      /* throws of noise: a place without a town has no more */
#define HISS_SEED    7          /* a stream of the seed                         */
#define USUAL_DB     29.7       /* there it is 1 LSB rms, as in a town          */
#define CONVERTER    0.25

struct samples {
	struct state      *state;
	int                dongle;
	struct town_air   *air;         /* NULL: no town                            */
	float             *hiss;        /* ... but this                             */
	struct dice        dice;
	struct air_setting set;         /* rate 0: not yet                          */
	uint16_t           pairs[PAIRS];
	int64_t            last_at;     /* the last pair's place in the stream ...  */
	uint16_t           last;        /* ... and itself: an odd piece may end in it */
};

static int make_hiss(struct samples *m)
{
	m->hiss = calloc(HISS, sizeof *m->hiss);
	if (!m->hiss)
		return -1;
	m->dice = dice_of(m->state->scenario.seed, HISS_SEED);
	for (int i = 0; i < HISS; i++)
		m->hiss[i] = (float)dice_normal(&m->dice);
	return 0;
}

static int enter_town(struct samples *m)
{
	const struct scenario *c = &m->state->scenario;
	const struct scenario_dongle *d = &c->dongles[m->dongle];
	struct fault why = { 0 };

	m->air = town_air_create(clock_town(), NULL, c->seed, &why);
	if (!m->air) {
		fprintf(stderr, "emulated dongle: %s\n", why.text);
		return -1;
	}
	town_air_crystal(m->air, d->ppm, d->cold_ppm, d->warm_ppm, llround(d->warm_up_s * 1e6));
	const struct air_flaws flaws = { c->image_db, c->spur_hz, c->spur_dbfs, c->third_dbfs };
	town_air_flaws(m->air, &flaws);
	return 0;
}

struct samples *samples_create(struct state *s, int dongle)
{
	struct samples *m = calloc(1, sizeof *m);

	if (!m)
		return NULL;
	*m = (struct samples){ .state = s, .dongle = dongle, .last_at = -1 };
	if ((*s->scenario.town ? enter_town(m) : make_hiss(m)) < 0)
		goto fail;
	return m;
fail:
	samples_destroy(m);
	return NULL;
}

void samples_destroy(struct samples *m)
{
	if (!m)
		return;
	town_air_destroy(m->air);
	free(m->hiss);
	free(m);
}

static struct air_setting setting_of(const struct samples *m, const struct reception *r)
{
	const struct mischief *mute = mischief_now(m->state, m->dongle, MISCHIEF_DEAF);
	int64_t opens = m->state->dongles[m->dongle].count.opens;
	bool deaf = !r->locked || (mute && (mute->value <= 0 || (double)opens <= mute->value));

	return (struct air_setting){
		.centre_hz = r->lo_hz - r->if_hz, .rate_hz = r->rate_hz, .if_hz = r->if_hz,
		.gain_db = deaf ? DEAF_DB : r->gain_db,
	};
}

static bool same(const struct air_setting *a, const struct air_setting *b)
{
	return a->centre_hz == b->centre_hz && a->rate_hz == b->rate_hz &&
	       a->gain_db == b->gain_db && a->if_hz == b->if_hz;
}

static void hiss(struct samples *m, uint16_t *pairs, int n)
{
	double db = m->set.gain_db - USUAL_DB, rate = m->set.rate_hz / 2.4e6;
	float level = (float)sqrt(pow(10, db / 10) * rate + CONVERTER * CONVERTER);
	uint8_t *out = (uint8_t *)pairs;

	for (int i = 0, at = 0; i < 2 * n; i++, at++) {
		if (i % 1024 == 0)
			at = (int)(dice_bits(&m->dice) % (HISS - 1024));
		out[i] = (uint8_t)fmaxf(0, fminf(255, 128 + level * m->hiss[at]));
	}
}

/* The pairs from number `at` on; turned over when the demodulator does not. */
static void make_pairs(struct samples *m, const struct reception *r, int64_t at, int64_t us, int n)
{
	int known = at == m->last_at;

	if (known)
		m->pairs[0] = m->last;
	if (!m->air)
		hiss(m, m->pairs + known, n - known);
	else if (n > known)
		town_air_fill(m->air, us, m->pairs + known, (size_t)(n - known));
	for (int i = known; i < n && !r->upright; i++)
		m->pairs[i] = (uint16_t)((m->pairs[i] & 0xff) | (0xff00 - (m->pairs[i] & 0xff00)));
	m->last_at = at + n - 1;
	m->last = m->pairs[n - 1];
}

static void tune(struct samples *m, const struct reception *r, int64_t night_us)
{
	struct air_setting set = setting_of(m, r);

	if (same(&set, &m->set))
		return;
	if (m->air && town_air_set(m->air, &set, night_us) < 0)
		abort();
	m->set = set;
}

void samples_prepare(struct samples *m, const struct reception *r)
{
	if (r->rate_hz != m->set.rate_hz)
		tune(m, r, 0);
}

static void receive(struct samples *m, const struct reception *r, int64_t at, int64_t start_us,
		    uint8_t *out, size_t n)
{
	int64_t night_us = start_us - m->state->began_us + m->state->night_us;

	tune(m, r, night_us);
	for (size_t done = 0; done < n;) {
		int64_t here = at + (int64_t)done, first = here / 2;
		int odd = (int)(here & 1), pairs = (int)((n - done + (size_t)odd + 1) / 2);
		pairs = pairs < PAIRS ? pairs : PAIRS;
		size_t bytes = 2 * (size_t)pairs - (size_t)odd;
		bytes = bytes < n - done ? bytes : n - done;
		make_pairs(m, r, first, night_us + llround((double)done / 2 / r->rate_hz * 1e6),
			   pairs);
		memcpy(out + done, (const uint8_t *)m->pairs + odd, bytes);
		done += bytes;
	}
}

void samples_fill(struct samples *m, const struct reception *r, int64_t at, int64_t start_us,
		  uint8_t *out, size_t n)
{
	if (!r->counting && r->rate_hz > 0) {
		receive(m, r, at, start_us, out, n);
		return;
	}
	for (size_t i = 0; i < n; i++)
		out[i] = r->counting ? (uint8_t)(at + (int64_t)i) : 127;
}
