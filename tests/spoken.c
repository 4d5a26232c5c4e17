#include "tests/spoken.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <liquid/liquid.h>

#include "tests/noise.h"

#define SPEECH_HZ 8000
#define BY        (SPOKEN_HZ / SPEECH_HZ)
#define SETTLE    400           /* speech values that the filters need   */
#define REACH     8             /* of the interpolator, in speech values */

static size_t read_speech(uint8_t **out)
{
	FILE *f = fopen(SOURCE_ROOT "/tests/data/voice_8k.u8", "rb");
	uint8_t *p = malloc(1 << 20);
	size_t n = f && p ? fread(p, 1, 1 << 20, f) : 0;

	if (n < SPEECH_HZ)
		abort();
	fclose(f);
	*out = p;
	return n;
}

static void filter(float *x, size_t n, liquid_iirdes_bandtype type, unsigned order, double hz)
{
	iirfilt_rrrf f = iirfilt_rrrf_create_prototype(LIQUID_IIRDES_BUTTER, type, LIQUID_IIRDES_SOS,
						       order, (float)(hz / SPEECH_HZ), 0.1f, 1, 60);
	iirfilt_rrrf_execute_block(f, x, (unsigned)n, x);
	iirfilt_rrrf_destroy(f);
}

/* Peaks limited; the loudest parts stand 8 dB below the limiter, as is common practice. */
static void limit(float *x, size_t n, double share)
{
	double square = 1e-12;
	size_t loud = 0;

	for (size_t i = 0; i < n; i++) {
		loud += fabsf(x[i]) > 0.02f;
		square += fabsf(x[i]) > 0.02f ? (double)x[i] * x[i] : 0;
	}
	float by = 0.4f / (float)sqrt(square / (double)(loud + 1));
	for (size_t i = 0; i < n; i++) {
		float v = x[i] * by;
		x[i] = (float)share * (v > 1 ? 1 : v < -1 ? -1 : v);
	}
}

static void speak(const struct spoken *s, struct noise *r, float *x, size_t n)
{
	uint8_t *speech;
	size_t all = read_speech(&speech), from = (size_t)noise_between(r, 0, (int64_t)all - 1);

	for (size_t i = 0; i < n; i++)
		x[i] = ((float)speech[(from + i) % all] - 128) / 128;
	free(speech);
	for (size_t i = n - 1; s->emphasis && i > 0; i--)
		x[i] = 2 * (x[i] - 0.9f * x[i - 1]);
	filter(x, n, LIQUID_IIRDES_HIGHPASS, s->poor ? 2 : 9, s->poor ? 250 : 300);
	limit(x, n, s->share);
	filter(x, n, LIQUID_IIRDES_LOWPASS, 7, 3000);
}

/* 12 bits, of which three are fixed, and the remainder of their division by the Golay
 * code's polynomial, lowest first (worked out by hand for 023: 0x763813). */
uint32_t spoken_code_word(int code)
{
	uint32_t data = 0x800 | (uint32_t)code, rest = data << 11;

	for (int bit = 22; bit >= 11; bit--)
		if (rest >> bit & 1)
			rest ^= UINT32_C(0xc75) << (bit - 11);
	return rest << 12 | data;
}

static void add_below(const struct spoken *s, struct noise *r, float *audio, size_t n)
{
	double phase = 2 * M_PI * noise_uniform(r), bits = 23 * noise_uniform(r), soft = 0;
	uint32_t word = spoken_code_word(s->code);

	for (size_t i = 0; i < n; i++) {
		double t = (double)i / SPOKEN_HZ, v = audio[i];
		if (s->tone_hz > 0)
			v += s->tone * sin(phase + 2 * M_PI * s->tone_hz * t);
		if (s->code) {
			double bit = word >> (int)fmod(bits + 134.4 * t, 23) & 1 ? 1 : -1;
			/* Edges are rounded off above 250 Hz. */
			soft += (bit - soft) * (1 - exp(-2 * M_PI * 250 / SPOKEN_HZ));
			v += s->code_level * soft;
		}
		audio[i] = (float)(v > 1 ? 1 : v < -1 ? -1 : v);
	}
}

void spoken_make(const struct spoken *s, uint64_t seed, float *audio, size_t n)
{
	struct noise r = { seed };
	size_t low = n / BY + 2 + SETTLE + 2 * REACH;
	float *x = calloc(low, sizeof *x), *fast = malloc(low * BY * sizeof *fast);
	firinterp_rrrf q = firinterp_rrrf_create_kaiser(BY, REACH, 70);

	if (!x || !fast || !q)
		abort();
	if (s->share > 0)
		speak(s, &r, x, low);
	firinterp_rrrf_execute_block(q, x, (unsigned)low, fast);
	memcpy(audio, fast + (SETTLE + 2 * REACH) * BY, n * sizeof *audio);
	add_below(s, &r, audio, n);
	firinterp_rrrf_destroy(q);
	free(fast);
	free(x);
}
