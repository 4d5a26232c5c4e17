#include "daemon/town/noise.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/town/wave.h"

#define TABLE (1 << 20)         /* 0.4 s at 2.4 MS/s      */
#define WHITE (1 << 18)
#define TAPS  64                /* on either side of one  */

/* The usual tuner's digital filter, from its coefficients; the dB below. */
static const struct {
	double hz, db;
} droop[] = {
	{ 0, 0 }, { 0.4e6, 0.05 }, { 0.6e6, 0.2 }, { 0.8e6, 0.6 }, { 0.9e6, 1.0 }, { 1.0e6, 1.5 },
	{ 1.1e6, 2.2 }, { 1.2e6, 3.0 }, { 1.4e6, 5.3 }, { 1.6e6, 8.6 }, { 2.0e6, 21 },
};

double passband(double offset_hz)
{
	double hz = fabs(offset_hz);
	size_t i = 1;

	while (i + 1 < sizeof droop / sizeof droop[0] && hz > droop[i].hz)
		i++;
	double f = fmin((hz - droop[i - 1].hz) / (droop[i].hz - droop[i - 1].hz), 1);
	return pow(10, -(droop[i - 1].db + f * (droop[i].db - droop[i - 1].db)) / 20);
}

int noise_create(struct noise *n, uint64_t seed)
{
	struct dice d = dice_of(seed, 3000);

	memset(n, 0, sizeof *n);
	n->a = calloc(TABLE + WAVE_MOST, sizeof *n->a);
	n->b = calloc(TABLE + WAVE_MOST, sizeof *n->b);
	n->white = calloc(WHITE + WAVE_MOST, sizeof *n->white);
	if (!n->a || !n->b || !n->white) {
		noise_free(n);
		return -1;
	}
	for (size_t i = 0; i < WHITE + WAVE_MOST; i++)
		n->white[i] = (float)dice_normal(&d);
	return 0;
}

void noise_free(struct noise *n)
{
	free(n->a);
	free(n->b);
	free(n->white);
	memset(n, 0, sizeof *n);
}

/* A filter that is symmetric about its middle, by sampling the wanted response
 * in frequency; the Hann taper keeps it smooth in between. */
static void design(float tap[TAPS + 1], int32_t rate_hz)
{
	int points = 4 * TAPS;

	for (int k = 0; k <= TAPS; k++) {
		double sum = 0;
		for (int m = 0; m < points; m++) {
			double f = (double)(m < points / 2 ? m : m - points) / points;
			sum += passband(f * rate_hz) * cos(2 * M_PI * k * m / points);
		}
		tap[k] = (float)(sum / points * (0.5 + 0.5 * cos(M_PI * k / (TAPS + 1))));
	}
}

static void filter(float *out, const float *in, const float tap[TAPS + 1], size_t n)
{
	for (size_t i = 0; i < n; i++)
		out[i] = tap[0] * in[TAPS + i];
	for (size_t k = 1; k <= TAPS; k++)
		for (size_t i = 0; i < n; i++)
			out[i] += tap[k] * (in[TAPS + i - k] + in[TAPS + i + k]);
}

int noise_shape(struct noise *n, uint64_t seed, int32_t rate_hz)
{
	size_t out = TABLE + WAVE_MOST, in = out + 2 * TAPS;
	float *white = calloc(in, sizeof *white), tap[TAPS + 1];
	struct dice d = dice_of(seed, 3001);

	if (!white)
		return -1;
	design(tap, rate_hz);
	for (int rail = 0; rail < 2; rail++) {
		for (size_t i = 0; i < in; i++)
			white[i] = (float)dice_normal(&d);
		/* A piece at a time, so that it stays near the processor. */
		for (size_t i = 0; i < out; i += 4096)
			filter((rail ? n->b : n->a) + i, white + i, tap,
			       out - i < 4096 ? out - i : 4096);
	}
	free(white);
	return 0;
}

void noise_fill(const struct noise *n, struct dice *d, float *re, float *im, double antenna,
		double converter, int count)
{
	uint64_t bits = dice_bits(d), more = dice_bits(d);
	size_t at = bits % TABLE, i = more % WHITE, q = (more >> 32) % WHITE;
	double angle = 2 * M_PI * (double)(bits >> 40) / (double)(1 << 24);
	float k = (float)converter;
	float wa[WAVE_MOST], wb[WAVE_MOST];

	for (int j = 0; j < count; j++) {
		wa[j] = k * n->white[i + (size_t)j];
		wb[j] = k * n->white[q + (size_t)j];
	}
	wave_noise(re, im, n->a + at, n->b + at, wa, wb, (float)(antenna * cos(angle)),
		   (float)(antenna * sin(angle)), count);
}
