#include "daemon/town/sound.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/dice.h"

/* Second order resonance, unit gain at its frequency. */
struct resonator {
	double a1, a2, gain, y1, y2;
};

static void resonator_tune(struct resonator *r, double hz, double width_hz, double rate_hz)
{
	double p = exp(-M_PI * width_hz / rate_hz);

	r->a1 = 2 * p * cos(2 * M_PI * hz / rate_hz);
	r->a2 = -p * p;
	r->gain = (1 - p) * sqrt(1 + p * p - 2 * p * cos(4 * M_PI * hz / rate_hz));
}

static double resonator_feed(struct resonator *r, double x)
{
	double y = r->gain * x + r->a1 * r->y1 + r->a2 * r->y2;

	r->y2 = r->y1;
	r->y1 = y;
	return y;
}

struct voice {
	struct dice      dice;
	struct resonator formant[3];
	double           pitch_hz, glide, phase, loud;
	int              left, length;  /* of the syllable, in values            */
	int              syllables;     /* until the next pause                  */
	bool             breathy, pause;
};

/* Formants of adult voices: 300-800, 850-2200, 2300-2900 Hz (common knowledge). */
static void next_syllable(struct voice *v, double rate_hz)
{
	struct dice *d = &v->dice;

	v->pause = v->syllables-- <= 0;
	if (v->pause)
		v->syllables = 3 + (int)(5 * dice_unit(d));
	v->length = (int)(rate_hz * (v->pause ? dice_between(d, 0.15, 0.6)
					      : dice_between(d, 0.12, 0.3)));
	v->left = v->length;
	v->pitch_hz = dice_between(d, 95, 170);
	v->glide = dice_between(d, -0.2, 0.1);
	v->loud = dice_between(d, 0.6, 1);
	v->breathy = dice_unit(d) < 0.15;
	resonator_tune(&v->formant[0], dice_between(d, 350, 800), 90, rate_hz);
	resonator_tune(&v->formant[1], dice_between(d, 900, 2200), 140, rate_hz);
	resonator_tune(&v->formant[2], dice_between(d, 2300, 2800), 220, rate_hz);
}

static double voice_next(struct voice *v, double rate_hz)
{
	double done = 1 - (double)v->left / v->length, x = 0;

	v->left--;
	v->phase += v->pitch_hz * (1 + v->glide * done) / rate_hz;
	if (v->phase >= 1) {
		v->phase -= 1;
		x = 30;
	}
	if (v->breathy)
		x = 2 * dice_normal(&v->dice);
	if (v->pause)
		x = 0;
	x *= v->loud * sin(M_PI * fmin(done * 1.1, 1));
	return resonator_feed(&v->formant[0], x) + 0.7 * resonator_feed(&v->formant[1], x) +
	       0.4 * resonator_feed(&v->formant[2], x);
}

/* To unit rms, pressed together as a transmitter's limiter does, peaks at 1. */
static void limit(struct sound *s)
{
	double power = 0;

	for (size_t i = 0; i < s->n; i++)
		power += (double)s->value[i] * s->value[i];
	for (size_t i = 0; i < s->n; i++)
		s->value[i] = (float)tanh(0.5 * s->value[i] / sqrt(power / (double)s->n + 1e-30));
}

/* Two poles, one after the other. */
static void low_pass(struct sound *s, double hz, double rate_hz)
{
	double k = 1 - exp(-2 * M_PI * hz / rate_hz), y1 = 0, y2 = 0;

	for (size_t i = 0; i < s->n; i++) {
		y1 += k * (s->value[i] - y1);
		y2 += k * (y1 - y2);
		s->value[i] = (float)y2;
	}
}

static void high_pass(struct sound *s, double hz, double rate_hz)
{
	double k = 1 - exp(-2 * M_PI * hz / rate_hz), y = 0;

	for (size_t i = 0; i < s->n; i++) {
		y += k * (s->value[i] - y);
		s->value[i] = (float)(s->value[i] - y);
	}
}

static void make_speech(struct sound *s, struct dice d)
{
	struct voice v = { .dice = d, .syllables = 4 };

	for (size_t i = 0; i < s->n; i++) {
		if (v.left == 0)
			next_syllable(&v, s->rate_hz);
		s->value[i] = (float)voice_next(&v, s->rate_hz);
	}
	high_pass(s, 300, s->rate_hz);
	limit(s);
	low_pass(s, 4000, s->rate_hz);
}

/* Random symbols whose edges take half a symbol's time. */
static void make_symbols(struct sound *s, struct dice d, int levels)
{
	float was = 0, is = 0;

	for (size_t i = 0; i < s->n; i++) {
		size_t at = i % 8;
		if (at == 0) {
			int level = (int)(dice_bits(&d) >> 32 & (uint64_t)(levels - 1));
			was = is;
			is = (float)(2 * level - (levels - 1)) / (float)(levels - 1);
		}
		s->value[i] = at < 4 ? was + (is - was) * (float)(at + 1) / 5 : is;
	}
}

static void make_two(struct sound *s, struct dice d)
{
	make_symbols(s, d, 2);
}

static void make_four(struct sound *s, struct dice d)
{
	make_symbols(s, d, 4);
}

static void make_programme(struct sound *s, struct dice d)
{
	double loud = 0;

	for (size_t i = 0; i < s->n; i++) {
		if (i % 16384 == 0)     /* a new note every 85 ms */
			loud = dice_between(&d, 0.3, 1);
		s->value[i] = (float)(dice_normal(&d) * loud);
	}
	low_pass(s, 4000, s->rate_hz);
	limit(s);
	low_pass(s, 15000, s->rate_hz);
	for (size_t i = 0; i < s->n; i++) {
		double pilot = sin(2 * M_PI * 19000 * (double)i / s->rate_hz);
		s->value[i] = (float)(0.9 * s->value[i] + 0.09 * pilot);
	}
}

static void make_hash(struct sound *s, struct dice d)
{
	for (size_t i = 0; i < s->n; i++)
		s->value[i] = (float)dice_normal(&d);
	low_pass(s, s->rate_hz / 10, s->rate_hz);
	limit(s);
}

/* ICAO Annex 10 Vol. I, 3.3 (from memory): 30 % of 30 Hz, 30 % of a 9960 Hz
 * subcarrier that swings 480 Hz at 30 Hz, 10 % of a 1020 Hz ident. */
static void make_beacon(struct sound *s, struct dice d)
{
	static const char ident[] = "###.###.###...#.#.###.#.......";      /* OF, invented */

	(void)d;
	for (size_t i = 0; i < s->n; i++) {
		double t = (double)i / s->rate_hz;
		char key = ident[(size_t)(t / 0.09) % (sizeof ident - 1)];
		s->value[i] = (float)(0.3 * cos(2 * M_PI * 30 * t) +
				      0.3 * cos(2 * M_PI * 9960 * t + 16 * sin(2 * M_PI * 30 * t)) +
				      (key == '#' ? 0.1 * sin(2 * M_PI * 1020 * t) : 0));
	}
}

static const struct {
	size_t n;
	double rate_hz;
	void (*make)(struct sound *s, struct dice d);
} recipes[SOUNDS] = {
	[SOUND_SPEECH] = { 1 << 19, 24000, make_speech },
	[SOUND_TWO] = { 1 << 17, 8, make_two },
	[SOUND_FOUR] = { 1 << 17, 8, make_four },
	[SOUND_PROGRAMME] = { 1 << 18, 192000, make_programme },
	[SOUND_HASH] = { 1 << 16, 24000, make_hash },
	[SOUND_BEACON] = { 1 << 18, 96000, make_beacon },
};

static void add_up(struct sound *s)
{
	double mean = 0;

	for (size_t i = 0; i < s->n; i++)
		mean += s->value[i] / (double)s->n;
	for (size_t i = 0; i < s->n; i++)
		s->sum[i + 1] = s->sum[i] + s->value[i] - mean;
}

int sounds_make(struct sound out[SOUNDS], uint64_t seed)
{
	memset(out, 0, SOUNDS * sizeof *out);
	for (int k = 0; k < SOUNDS; k++) {
		struct sound *s = &out[k];
		*s = (struct sound){ .n = recipes[k].n, .rate_hz = recipes[k].rate_hz };
		s->value = calloc(s->n, sizeof *s->value);
		s->sum = calloc(s->n + 1, sizeof *s->sum);
		if (!s->value || !s->sum)
			goto fail;
		recipes[k].make(s, dice_of(seed, 2000 + (uint64_t)k));
		add_up(s);
	}
	return 0;
fail:
	sounds_free(out);
	return -1;
}

void sounds_free(struct sound s[SOUNDS])
{
	for (int k = 0; k < SOUNDS; k++) {
		free(s[k].value);
		free(s[k].sum);
	}
	memset(s, 0, SOUNDS * sizeof *s);
}
