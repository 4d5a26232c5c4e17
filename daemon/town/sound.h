#ifndef BANDCENSUS_DAEMON_TOWN_SOUND_H
#define BANDCENSUS_DAEMON_TOWN_SOUND_H

#include <stddef.h>
#include <stdint.h>

/* What is said over the air, as tables made once that go round and round. */
enum sound_kind {
	SOUND_SPEECH = 0,       /* pitch pulses through formants, with pauses; 300 - 3000 Hz   */
	SOUND_TWO,              /* symbols of two levels, eight values each                   */
	SOUND_FOUR,             /* of four                                                    */
	SOUND_PROGRAMME,        /* music and noise to 15 kHz, and a stereo pilot              */
	SOUND_HASH,             /* noise up to a tenth of its rate                            */
	SOUND_BEACON,           /* bearing tones and ident of a navigation beacon, as AM      */
	SOUNDS
};

struct sound {
	float  *value;          /* -1 .. 1                                             */
	double *sum;            /* of the values before, less their mean               */
	size_t  n;              /* a power of two                                      */
	double  rate_hz;        /* values a second; symbols: in one symbol's time      */
};

/* Owned until sounds_free; -1: no memory. */
int sounds_make(struct sound out[SOUNDS], uint64_t seed);
void sounds_free(struct sound s[SOUNDS]);

/* Value, and integral over time from the table's start, both of a straight line
 * between entries; t >= 0 in seconds (symbols: symbol times). */
static inline double sound_at(const struct sound *s, double t)
{
	double x = t * s->rate_hz;
	size_t i = (size_t)x;
	double f = x - (double)i, a = s->value[i & (s->n - 1)], b = s->value[(i + 1) & (s->n - 1)];

	return a + f * (b - a);
}

static inline double sound_integral(const struct sound *s, double t)
{
	double x = t * s->rate_hz;
	size_t i = (size_t)x, at = i & (s->n - 1);

	return (s->sum[at] + (x - (double)i) * (s->sum[at + 1] - s->sum[at])) / s->rate_hz;
}

#endif
