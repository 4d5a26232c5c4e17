#include "daemon/town/signal.h"

#include <math.h>

#include "dsp/dice.h"

/* Modulation is worked out this often and drawn as straight lines in between:
 * images of speech come out more than 50 dB down. */
#define KNOTS_HZ      60000
#define WIDE_KNOTS_HZ 300000
#define WIDE_HZ       50000     /* occupied width from which the latter are used */
#define KNOTS_MOST    (WAVE_MOST / 8 + 2)

/* How an emitter modulates: its phase in turns and its amplitude, t seconds into
 * an over in which talk lasts until talk_s. */
struct said {
	const struct emitter *e;
	const struct sound   *sound;
	double                from, talk_s, speed;
};

struct point {
	double turns, level;
};

static struct point say_carrier(const struct said *s, double t)
{
	(void)s;
	(void)t;
	return (struct point){ 0, 1 };
}

static struct point say_am(const struct said *s, double t)
{
	/* Speech depth of up to 0.8, as transmitters are set (common practice). */
	double depth = s->sound->rate_hz > 50000 ? 1 : 0.8;

	if (t >= s->talk_s)
		return (struct point){ 0, 1 };
	return (struct point){ 0, 1 + depth * sound_at(s->sound, s->from + t * s->speed) };
}

/* Peak deviation is what Carson's rule leaves of the occupied width for speech
 * up to 3 kHz; the tone takes 15 % of it. */
static struct point say_nfm(const struct said *s, double t)
{
	double peak = (freq_to_hz(s->e->width) - 6000) / 2, tone = s->e->tone_hz;
	double talk = fmin(t, s->talk_s);
	double turns = 0.85 * peak * sound_integral(s->sound, s->from + talk * s->speed) / s->speed;

	if (tone > 0)
		turns += 0.15 * peak / tone * sin(2 * M_PI * tone * t) / (2 * M_PI);
	return (struct point){ turns, 1 };
}

/* 75 kHz in 180 kHz. */
static struct point say_wfm(const struct said *s, double t)
{
	double swing = freq_to_hz(s->e->width) * 75 / 180;

	return (struct point){ swing * sound_integral(s->sound, s->from + t), 1 };
}

/* speed: symbols a second. */
static struct point say_data(const struct said *s, double t)
{
	double swing = (s->e->symbols == 4 ? 0.17 : 0.32) * freq_to_hz(s->e->width);
	double symbols = sound_integral(s->sound, s->from + t * s->speed);

	return (struct point){ swing * symbols / s->speed, 1 };
}

static struct point say_noise(const struct said *s, double t)
{
	double swing = 0.5 * freq_to_hz(s->e->width);

	return (struct point){ swing * sound_integral(s->sound, s->from + t), 1 };
}

static const struct {
	struct point  (*say)(const struct said *s, double t);
	enum sound_kind sound;
} ways[KIND_COUNT] = {
	[KIND_UNKNOWN] = { say_carrier, SOUND_SPEECH },
	[KIND_CARRIER] = { say_carrier, SOUND_SPEECH },
	[KIND_AM] = { say_am, SOUND_SPEECH },
	[KIND_NFM] = { say_nfm, SOUND_SPEECH },
	[KIND_WFM] = { say_wfm, SOUND_PROGRAMME },
	[KIND_DATA] = { say_data, SOUND_TWO },
	[KIND_NOISE] = { say_noise, SOUND_HASH },
};

static struct said said_of(const struct emitter *e, const struct over *o,
			   const struct sound sounds[SOUNDS])
{
	enum sound_kind k = ways[e->kind].sound;
	struct said s = { .e = e, .speed = 1, .talk_s = (double)(o->talk_us - o->start_us) * 1e-6 };

	if (e->kind == KIND_DATA) {
		/* Two levels far apart and slow, four close and fast: as pagers and digital
		 * voice are (common practice). */
		s.speed = (e->symbols == 4 ? 0.43 : 0.17) * freq_to_hz(e->width);
		k = e->symbols == 4 ? SOUND_FOUR : SOUND_TWO;
	} else if (e->kind == KIND_AM && freq_to_hz(e->width) > 15000) {
		k = SOUND_BEACON;
	} else if (k == SOUND_SPEECH) {
		/* Voices differ. */
		s.speed = 0.9 + 0.3 * (double)(o->seed % 97) / 97;
	}
	s.sound = &sounds[k];
	s.from = (double)o->seed * 0x1p-32 * (double)s.sound->n / s.sound->rate_hz;
	return s;
}

static float part_of_turn(double turns)
{
	return (float)(turns - rint(turns));
}

void signal_add(const struct carrier *c, const struct emitter *e, const struct over *o,
		const struct sound sounds[SOUNDS], double since_us, int64_t from, int64_t to,
		float *re, float *im)
{
	struct said said = said_of(e, o, sounds);
	int32_t knots_hz = freq_to_hz(e->width) > WIDE_HZ ? WIDE_KNOTS_HZ : KNOTS_HZ;
	int each = 8 * (int)fmax(rint(c->rate_hz / 8 / knots_hz), 1);
	double per = 1.0 / c->rate_hz, step = c->offset_hz * per;
	struct arc arcs[KNOTS_MOST];
	struct point p = ways[e->kind].say(&said, since_us * 1e-6 + (double)from * per);

	for (int64_t i = from, k = 0; i < to; i += each, k++) {
		double t = since_us * 1e-6 + (double)(i + each) * per;
		struct point next = ways[e->kind].say(&said, t);
		arcs[k] = (struct arc){
			.turns = part_of_turn(c->turns + step * (double)i + p.turns),
			.step = (float)(step + (next.turns - p.turns) / each),
			.level = (float)(c->amplitude * p.level),
			.slope = (float)(c->amplitude * (next.level - p.level) / each),
		};
		p = next;
	}
	wave_add(re, im, arcs, each, (int)(to - from));
}
