#include "daemon/town/air.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/town/noise.h"
#include "daemon/town/signal.h"

#define USUAL_RATE_HZ    2400000.0
#define USUAL_GAIN_DB    29.7    /* at which noise is 1 LSB rms a rail at the usual rate   */
#define CONVERTER_LSB    0.25    /* noise of tuner and converter a rail, whatever the gain */
#define WANDER_MARGIN_HZ 50e3    /* an emitter so far outside may come in while tuned      */
#define FULL_SCALE       127.5
#define DICE_NOISE       4000    /* streams of the seed                                    */
#define DICE_PHASES      5000

/* Offset and imbalance: a small line at the centre, mirror images 45 dB down. */
static const struct converter converter = { 127.4f, 127.6f, 0.008f, 0.008f };

/* An emitter in or near the window. */
struct heard {
	int                emitter;
	const struct over *overs;
	int                n;
	int                next;        /* the first that has not ended          */
	bool               image;       /* of another window: comes in mirrored  */
	struct carrier     carrier;     /* before it is mirrored                 */
};

struct town_air {
	struct town        town;
	struct night      *night;
	uint64_t           seed;
	struct sound       sounds[SOUNDS];
	struct noise       noise;
	int32_t            shaped_hz;   /* the rate the noise was shaped for      */
	struct dice        dice;
	struct air_setting set;
	struct air_flaws   flaws;
	double             spur_turns;
	struct heard      *heard;       /* room for all emitters and their images */
	int                n_heard;
	float              re[WAVE_MOST], im[WAVE_MOST];
	float              image_re[WAVE_MOST], image_im[WAVE_MOST];
	bool               antenna_off;
};

void town_air_destroy(struct town_air *a)
{
	if (!a)
		return;
	night_destroy(a->night);
	town_free(&a->town);
	sounds_free(a->sounds);
	noise_free(&a->noise);
	free(a->heard);
	free(a);
}

struct town_air *town_air_create(const char *path, const char *start, uint64_t seed,
				 struct fault *why)
{
	struct town_air *a = calloc(1, sizeof *a);

	if (!a)
		goto no_memory;
	a->seed = seed;
	if (town_read(path, &a->town, why) < 0 ||
	    (start && town_move(&a->town, start, "--start", why) < 0))
		goto fail;
	a->night = night_create(&a->town, seed);
	a->heard = calloc(2 * (size_t)a->town.n_emitters + 1, sizeof *a->heard);
	if (!a->night || !a->heard || sounds_make(a->sounds, seed) < 0 ||
	    noise_create(&a->noise, seed) < 0)
		goto no_memory;
	town_air_reset(a);
	return a;
no_memory:
	fault_set(why, FAULT_RETRY, "%s: no memory for the town", path);
fail:
	town_air_destroy(a);
	return NULL;
}

const struct town *town_air_town(const struct town_air *a)
{
	return &a->town;
}

const struct night *town_air_night(const struct town_air *a)
{
	return a->night;
}

void town_air_reset(struct town_air *a)
{
	a->dice = dice_of(a->seed, DICE_NOISE);
	a->n_heard = 0;
}

void town_air_crystal(struct town_air *a, double ppm, double cold_ppm, double warm_ppm,
		      int64_t warm_up_us)
{
	a->town.crystal_ppm = ppm;
	a->town.cold_ppm = cold_ppm;
	a->town.warm_ppm = warm_ppm;
	a->town.warm_up_us = warm_up_us;
}

void town_air_flaws(struct town_air *a, const struct air_flaws *f)
{
	a->flaws = *f;
}

/* LSB for a level at the socket. A ghost is of third order: what falls by 1 dB
 * at the socket falls by 3 dB for it. */
static double amplitude(const struct town_air *a, const struct emitter *e, double level_dbm)
{
	double noise_dbm = a->town.noise_dbm + 10 * log10(USUAL_RATE_HZ / 12500);
	double gain = (a->set.gain_db - USUAL_GAIN_DB) * (e->role == SENDER_GHOST ? 3 : 1);

	return sqrt(2 * pow(10, (level_dbm - noise_dbm + gain) / 10));
}

/* Where the window shows an emitter. With the crystal so far off what was asked
 * for, tuner and sample clock are off alike, and all in sight is scaled. */
static double offset_hz(const struct town_air *a, int emitter, int64_t us)
{
	const struct emitter *e = &a->town.emitters[emitter];
	double crystal = town_crystal_ppm(&a->town, us), off = (crystal - a->set.ppm) * 1e-6;
	double true_hz = freq_to_hz(e->frequency) + night_offset_hz(a->night, emitter, us);

	if (e->role == SENDER_BIRDIE)
		true_hz *= 1 + crystal * 1e-6;
	return true_hz / (1 + off) - a->set.centre_hz;
}

static void listen_for(struct town_air *a, int emitter, bool image, int64_t at_us)
{
	struct heard *h = &a->heard[a->n_heard];
	struct dice d = dice_of(a->seed ^ (uint64_t)at_us, DICE_PHASES + (uint64_t)emitter);

	*h = (struct heard){ .emitter = emitter, .image = image };
	h->overs = night_overs(a->night, emitter, &h->n);
	h->carrier.turns = dice_unit(&d);
	a->n_heard++;
}

void town_air_antenna_off(struct town_air *a)
{
	a->antenna_off = true;
}

int town_air_set(struct town_air *a, const struct air_setting *to, int64_t at_us)
{
	int32_t rate_hz = (int32_t)lrint(to->rate_hz);
	double far = to->rate_hz / 2 + WANDER_MARGIN_HZ;

	/* A trim of some ppm moves the passband by nothing. */
	if (abs(rate_hz - a->shaped_hz) > rate_hz / 2000) {
		if (noise_shape(&a->noise, a->seed, rate_hz) < 0)
			return -1;
		a->shaped_hz = rate_hz;
	}
	a->set = *to;
	a->n_heard = 0;
	for (int i = 0; i < a->town.n_emitters; i++) {
		const struct emitter *e = &a->town.emitters[i];
		double off = freq_to_hz(e->frequency) - to->centre_hz;
		if (a->antenna_off && e->role != SENDER_BIRDIE)
			continue;
		if (fabs(off) < far)
			listen_for(a, i, false, at_us);
		if (a->flaws.image_db > 0 && e->role != SENDER_BIRDIE &&
		    e->role != SENDER_GHOST && fabs(off - 2 * to->if_hz) < far)
			listen_for(a, i, true, at_us);
	}
	return 0;
}

/* Carriers of a block that starts now. A frequency is held for a block. */
static void set_carriers(struct town_air *a, int64_t start_us)
{
	for (int k = 0; k < a->n_heard; k++) {
		struct heard *h = &a->heard[k];
		h->carrier.rate_hz = a->set.rate_hz;
		h->carrier.offset_hz = offset_hz(a, h->emitter, start_us) -
				       (h->image ? 2 * a->set.if_hz : 0);
		h->next = over_after(h->overs, h->n, start_us);
	}
}

/* So that the next block goes on where this one ends. */
static void advance_carriers(struct town_air *a, size_t n)
{
	for (int k = 0; k < a->n_heard; k++) {
		struct carrier *c = &a->heard[k].carrier;
		c->turns = fmod(c->turns + c->offset_hz * (double)n / c->rate_hz, 1);
	}
}

/* First sample at or after a time, counted from the block's start. */
static int64_t sample_at(const struct town_air *a, int64_t us)
{
	return (int64_t)ceil((double)us * a->set.rate_hz / 1e6);
}

static void add_heard(struct town_air *a, struct heard *h, int64_t start_us, int64_t from,
		      int64_t to, float *re, float *im)
{
	const struct emitter *e = &a->town.emitters[h->emitter];

	if (fabs(h->carrier.offset_hz) >= a->set.rate_hz / 2)
		return;
	while (h->next < h->n && sample_at(a, h->overs[h->next].end_us - start_us) <= from)
		h->next++;
	for (int i = h->next; i < h->n; i++) {
		const struct over *o = &h->overs[i];
		int64_t first = sample_at(a, o->start_us - start_us);
		int64_t last = sample_at(a, o->end_us - start_us);
		if (first >= to)
			return;
		first = first > from ? first : from;
		last = last < to ? last : to;
		double level = e->level_dbm + o->level_db - (h->image ? a->flaws.image_db : 0);
		h->carrier.amplitude = amplitude(a, e, level) * passband(h->carrier.offset_hz);
		signal_add(&h->carrier, e, o, a->sounds, (double)(start_us - o->start_us), first,
			   last, re + (first - from), im + (first - from));
	}
}

/* What the mixer does not tell from the wanted: the spectrum above the oscillator,
 * turned over about it. */
static void add_images(struct town_air *a, int64_t start_us, int64_t from, int count)
{
	for (int k = 0; k < a->n_heard; k++) {
		if (!a->heard[k].image)
			continue;
		memset(a->image_re, 0, sizeof a->image_re);
		memset(a->image_im, 0, sizeof a->image_im);
		add_heard(a, &a->heard[k], start_us, from, from + count, a->image_re, a->image_im);
		for (int i = 0; i < count; i++) {
			a->re[i] += a->image_re[i];
			a->im[i] -= a->image_im[i];
		}
	}
}

/* A line at a fixed offset, then the third power of it all: two signals of amplitude
 * A make products of A^3 / intercept^2. */
static void add_flaws(struct town_air *a, int count)
{
	const struct air_flaws *f = &a->flaws;
	double step = f->spur_hz / a->set.rate_hz;
	const struct arc spur = {
		.turns = (float)a->spur_turns, .step = (float)step,
		.level = (float)(FULL_SCALE * pow(10, f->spur_dbfs / 20)),
	};

	if (f->spur_dbfs < 0) {
		wave_add(a->re, a->im, &spur, WAVE_MOST, count);
		a->spur_turns = fmod(a->spur_turns + step * count, 1);
	}
	if (f->third_dbfs == 0)
		return;
	float third = (float)(pow(10, -f->third_dbfs / 10) / (FULL_SCALE * FULL_SCALE));
	for (int i = 0; i < count; i++) {
		float power = a->re[i] * a->re[i] + a->im[i] * a->im[i];
		/* Beyond the bend it saturates. */
		float k = 1 - fminf(third * power, 0.5f);
		a->re[i] *= k;
		a->im[i] *= k;
	}
}

/* What lightning adds to the noise at that time, in dB. */
static double click_db(const struct town_air *a, int64_t us)
{
	int n;
	const struct over *o = night_clicks(a->night, &n);
	int i = over_after(o, n, us);

	return i < n && o[i].start_us <= us ? o[i].level_db : 0;
}

void town_air_fill(struct town_air *a, int64_t start_us, uint16_t *iq, size_t n)
{
	double rate = a->set.rate_hz;
	double rise_db = town_rise_db(&a->town, a->set.centre_hz, start_us);
	double usual = pow(10, (a->set.gain_db - USUAL_GAIN_DB) / 20) * sqrt(rate / USUAL_RATE_HZ);

	if (a->antenna_off)
		usual = 0;
	set_carriers(a, start_us);
	for (size_t at = 0; at < n; at += WAVE_MOST) {
		int count = n - at < WAVE_MOST ? (int)(n - at) : WAVE_MOST;
		int64_t from = (int64_t)at, middle = from + count / 2;
		double middle_us = (double)middle * 1e6 / rate;
		double rise = pow(10, (rise_db + click_db(a, start_us + (int64_t)middle_us)) / 20);

		noise_fill(&a->noise, &a->dice, a->re, a->im, usual * rise, CONVERTER_LSB, count);
		for (int k = 0; k < a->n_heard; k++)
			if (!a->heard[k].image)
				add_heard(a, &a->heard[k], start_us, from, from + count, a->re,
					  a->im);
		add_images(a, start_us, from, count);
		add_flaws(a, count);
		wave_bytes(iq + at, a->re, a->im, converter, count);
	}
	advance_carriers(a, n);
}
