#include "daemon/source.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/night.h"
#include "daemon/town_noise.h"
#include "daemon/town_signal.h"

#ifndef BANDCENSUS_CONFIG_DIR
#define BANDCENSUS_CONFIG_DIR "config"
#endif

#define USUAL_RATE_HZ    2400000.0
#define USUAL_GAIN_DB    29.7    /* at which noise is 1 LSB rms a rail at the usual rate   */
#define CONVERTER_LSB    0.25    /* noise of tuner and converter a rail, whatever the gain */
#define RATE_MIN         225001  /* what the usual dongle's resampler can do               */
#define RATE_MAX         3200000
#define LOWEST_HZ        24e6
#define HIGHEST_HZ       1766e6
#define WANDER_MARGIN_HZ 50e3    /* an emitter so far outside may come in while tuned      */
#define STALL_US         1000000 /* a read that gets nothing takes so long                 */

/* Offset and imbalance: a small line at the centre, mirror images 45 dB down. */
static const struct converter converter = { 127.4f, 127.6f, 0.008f, 0.008f };

/* An emitter in or near the window. */
struct heard {
	int                emitter;
	const struct over *overs;
	int                n;
	int                next;        /* the first that has not ended          */
	struct carrier     carrier;
};

struct invented {
	struct town   town;
	struct night *night;
	uint64_t      seed;
	struct sound  sounds[SOUNDS];
	struct noise  noise;
	int32_t       shaped_hz;        /* the rate the noise was shaped for      */
	struct dice   dice;
	struct tuning tuning;           /* rate 0: not yet                        */
	struct heard *heard;            /* room for all emitters                  */
	int           n_heard;
	int64_t       base_us;          /* of sample 0 since tuned or rested      */
	int64_t       samples;          /* read since then                        */
	uint16_t     *iq;
	size_t        room;             /* pairs                                  */
	float         re[WAVE_MOST], im[WAVE_MOST];
};

static void town_close(void *self)
{
	struct invented *v = self;

	if (!v)
		return;
	night_destroy(v->night);
	town_free(&v->town);
	sounds_free(v->sounds);
	noise_free(&v->noise);
	free(v->heard);
	free(v->iq);
	free(v);
}

/* The file asked for, or the one that comes along. */
static void town_path(const char *arg, char *out, size_t size)
{
	const char *folder = getenv("BANDCENSUS_CONFIG");

	if (*arg)
		snprintf(out, size, "%s", arg);
	else
		snprintf(out, size, "%s/harlow-ferry.conf",
			 folder && *folder ? folder : BANDCENSUS_CONFIG_DIR);
}

static void *town_open(const struct source_request *request, struct fault *why)
{
	char path[4096];
	struct invented *v = calloc(1, sizeof *v);

	town_path(request->arg, path, sizeof path);
	if (!v)
		goto no_memory;
	v->seed = request->seed ? request->seed : 1;
	v->dice = dice_of(v->seed, 4000);
	if (town_read(path, &v->town, why) < 0)
		goto fail;
	v->night = night_create(&v->town, v->seed);
	v->heard = calloc((size_t)v->town.n_emitters + 1, sizeof *v->heard);
	if (!v->night || !v->heard || sounds_make(v->sounds, v->seed) < 0 ||
	    noise_create(&v->noise, v->seed) < 0)
		goto no_memory;
	if (request->truth_path && night_write_truth(v->night, request->truth_path, why) < 0)
		goto fail;
	return v;
no_memory:
	fault_set(why, FAULT_RETRY, "%s: no memory for the town", path);
fail:
	town_close(v);
	return NULL;
}

static void town_about(void *self, struct source_about *out)
{
	const struct invented *v = self;

	memset(out, 0, sizeof *out);
	snprintf(out->label, sizeof out->label, "town %s, seed %llu", v->town.name,
		 (unsigned long long)v->seed);
	out->tunable = true;
	out->start_us = v->town.start_us;
	out->length_us = v->town.length_us;
	out->virtual_clock = true;
}

/* Microseconds into the night. */
static int64_t now_us(const struct invented *v)
{
	int32_t rate = v->tuning.rate_hz;

	if (v->samples == 0)
		return v->base_us;
	return v->base_us + v->samples / rate * 1000000 + v->samples % rate * 1000000 / rate;
}

static void move_clock(struct invented *v, int64_t us)
{
	v->base_us = now_us(v) + us;
	v->samples = 0;
}

static double gain_db(const struct invented *v)
{
	return v->tuning.gain_tenth_db / 10.0;
}

/* LSB for a level at the socket. A ghost is of third order: what falls by 1 dB
 * at the socket falls by 3 dB for it. */
static double amplitude(const struct invented *v, const struct emitter *e, double level_dbm)
{
	double noise_dbm = v->town.noise_dbm + 10 * log10(USUAL_RATE_HZ / 12500);
	double gain = (gain_db(v) - USUAL_GAIN_DB) * (e->role == SENDER_GHOST ? 3 : 1);

	return sqrt(2 * pow(10, (level_dbm - noise_dbm + gain) / 10));
}

/* Where the window shows an emitter. With the crystal so far off what was asked
 * for, tuner and sample clock are off alike, and all in sight is scaled. */
static double offset_hz(const struct invented *v, int emitter, int64_t us)
{
	const struct emitter *e = &v->town.emitters[emitter];
	double crystal = town_crystal_ppm(&v->town, us), off = (crystal - v->tuning.ppm) * 1e-6;
	double true_hz = freq_to_hz(e->frequency) + night_offset_hz(v->night, emitter, us);

	if (e->role == SENDER_BIRDIE)
		true_hz *= 1 + crystal * 1e-6;
	return true_hz / (1 + off) - freq_to_hz(v->tuning.centre);
}

static void listen_for(struct invented *v, int emitter)
{
	struct heard *h = &v->heard[v->n_heard];
	struct dice d = dice_of(v->seed ^ (uint64_t)v->base_us, 5000 + (uint64_t)emitter);

	*h = (struct heard){ .emitter = emitter };
	h->overs = night_overs(v->night, emitter, &h->n);
	h->carrier.turns = dice_unit(&d);
	v->n_heard++;
}

static int town_tune(void *self, const struct tuning *to, struct fault *why)
{
	struct invented *v = self;
	double centre = freq_to_hz(to->centre), far = to->rate_hz / 2.0 + WANDER_MARGIN_HZ;

	if (to->rate_hz < RATE_MIN || to->rate_hz > RATE_MAX)
		return fault_set(why, FAULT_INPUT, "town: rate is %d S/s, must be %d to %d",
				 to->rate_hz, RATE_MIN, RATE_MAX);
	if (centre < LOWEST_HZ || centre > HIGHEST_HZ)
		return fault_set(why, FAULT_INPUT, "town: centre is %.6f MHz, must be %g to %g MHz",
				 centre / 1e6, LOWEST_HZ / 1e6, HIGHEST_HZ / 1e6);
	if (v->shaped_hz != to->rate_hz && noise_shape(&v->noise, v->seed, to->rate_hz) < 0)
		return fault_set(why, FAULT_RETRY, "town: no memory for noise");
	v->shaped_hz = to->rate_hz;
	move_clock(v, v->town.retune_us);
	v->tuning = *to;
	v->n_heard = 0;
	for (int i = 0; i < v->town.n_emitters; i++)
		if (fabs(freq_to_hz(v->town.emitters[i].frequency) - centre) < far)
			listen_for(v, i);
	return 0;
}

/* Carriers of a block that starts now. A frequency is held for a block. */
static void set_carriers(struct invented *v, int64_t start_us)
{
	for (int k = 0; k < v->n_heard; k++) {
		struct heard *h = &v->heard[k];
		h->carrier.rate_hz = v->tuning.rate_hz;
		h->carrier.offset_hz = offset_hz(v, h->emitter, start_us);
		h->next = over_after(h->overs, h->n, start_us);
	}
}

/* So that the next block goes on where this one ends. */
static void advance_carriers(struct invented *v, size_t n)
{
	for (int k = 0; k < v->n_heard; k++) {
		struct carrier *c = &v->heard[k].carrier;
		c->turns = fmod(c->turns + c->offset_hz * (double)n / c->rate_hz, 1);
	}
}

/* First sample at or after a time, counted from the block's start. */
static int64_t sample_at(const struct invented *v, int64_t us)
{
	return (int64_t)ceil((double)us * v->tuning.rate_hz / 1e6);
}

static void add_heard(struct invented *v, struct heard *h, int64_t start_us, int64_t from,
		      int64_t to)
{
	const struct emitter *e = &v->town.emitters[h->emitter];

	if (fabs(h->carrier.offset_hz) >= v->tuning.rate_hz / 2.0)
		return;
	while (h->next < h->n && sample_at(v, h->overs[h->next].end_us - start_us) <= from)
		h->next++;
	for (int i = h->next; i < h->n; i++) {
		const struct over *o = &h->overs[i];
		int64_t first = sample_at(v, o->start_us - start_us);
		int64_t last = sample_at(v, o->end_us - start_us);
		if (first >= to)
			return;
		first = first > from ? first : from;
		last = last < to ? last : to;
		h->carrier.amplitude = amplitude(v, e, e->level_dbm + o->level_db) *
				       passband(h->carrier.offset_hz);
		signal_add(&h->carrier, e, o, v->sounds, (double)(start_us - o->start_us), first,
			   last, v->re + (first - from), v->im + (first - from));
	}
}

/* What lightning adds to the noise at that time, in dB. */
static double click_db(const struct invented *v, int64_t us)
{
	int n;
	const struct over *o = night_clicks(v->night, &n);
	int i = over_after(o, n, us);

	return i < n && o[i].start_us <= us ? o[i].level_db : 0;
}

static void synthesise(struct invented *v, int64_t start_us, size_t n)
{
	double rate = v->tuning.rate_hz;
	double rise_db = town_rise_db(&v->town, freq_to_hz(v->tuning.centre), start_us);
	double usual = pow(10, (gain_db(v) - USUAL_GAIN_DB) / 20) * sqrt(rate / USUAL_RATE_HZ);

	set_carriers(v, start_us);
	for (size_t at = 0; at < n; at += WAVE_MOST) {
		int count = n - at < WAVE_MOST ? (int)(n - at) : WAVE_MOST;
		int64_t from = (int64_t)at;
		double middle_us = (double)(from + count / 2) * 1e6 / rate;
		double rise = pow(10, (rise_db + click_db(v, start_us + (int64_t)middle_us)) / 20);

		noise_fill(&v->noise, &v->dice, v->re, v->im, usual * rise, CONVERTER_LSB, count);
		for (int k = 0; k < v->n_heard; k++)
			add_heard(v, &v->heard[k], start_us, from, from + count);
		wave_bytes(v->iq + at, v->re, v->im, converter, count);
	}
	advance_carriers(v, n);
}

/* While the dongle is off the bus a read gets nothing, and takes its time. */
static int lost(struct invented *v, int64_t start_us, int64_t end_us, struct fault *why)
{
	const struct event *e = town_event(&v->town, EVENT_LOST, start_us, end_us);

	if (!e)
		return 0;
	move_clock(v, e->from_us > start_us ? e->from_us - start_us : STALL_US);
	return fault_set(why, FAULT_RETRY, "town: dongle is lost, it comes back at %s", e->until);
}

static int make_room(struct invented *v, size_t n, struct fault *why)
{
	if (n <= v->room)
		return 0;
	uint16_t *more = realloc(v->iq, n * sizeof *more);
	if (!more)
		return fault_set(why, FAULT_RETRY, "town: no memory for %zu samples", n);
	v->iq = more;
	v->room = n;
	return 0;
}

static int town_get(void *self, size_t n, struct block *out, struct fault *why)
{
	struct invented *v = self;
	int64_t start = now_us(v), left = v->town.length_us - start;

	if (v->tuning.rate_hz == 0) {
		fault_set(why, FAULT_INPUT, "town: was read before it was tuned");
		return SOURCE_FAULT;
	}
	size_t most = left > 0 ? (size_t)((double)left * v->tuning.rate_hz / 1e6) : 0;
	n = n < most ? n : most;
	if (n == 0)
		return SOURCE_END;
	if (make_room(v, n, why) < 0 ||
	    lost(v, start, start + (int64_t)((double)n * 1e6 / v->tuning.rate_hz), why) < 0)
		return SOURCE_FAULT;
	synthesise(v, start, n);
	v->samples += (int64_t)n;
	*out = (struct block){
		.iq = v->iq, .format = SAMPLE_CU8, .n = n, .rate_hz = v->tuning.rate_hz,
		.centre = v->tuning.centre, .start_us = town_clock_us(&v->town, start),
		.mono_us = v->town.start_us + start,
	};
	return SOURCE_BLOCK;
}

static void town_rest(void *self, int64_t us)
{
	move_clock(self, us);
}

static int town_restart(void *self, struct fault *why)
{
	struct invented *v = self;

	(void)why;
	v->base_us = 0;
	v->samples = 0;
	v->dice = dice_of(v->seed, 4000);
	v->n_heard = 0;
	v->tuning.rate_hz = 0;
	return 0;
}

const struct source_ops source_town = {
	.name = "town",
	.open = town_open,
	.about = town_about,
	.tune = town_tune,
	.read = town_get,
	.rest = town_rest,
	.restart = town_restart,
	.close = town_close,
};
