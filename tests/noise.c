#include "tests/noise.h"

#include <math.h>

/* splitmix64 (Steele, Lea, Flood 2014; constants from memory) */
uint64_t noise_bits(struct noise *r)
{
	uint64_t z = r->state += UINT64_C(0x9e3779b97f4a7c15);
	z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
	return z ^ z >> 31;
}

double noise_uniform(struct noise *r)
{
	return (double)(noise_bits(r) >> 11) * 0x1p-53;
}

int64_t noise_between(struct noise *r, int64_t a, int64_t b)
{
	return a + (int64_t)(noise_bits(r) % (uint64_t)(b - a + 1));
}

/* Box and Muller 1958: a radius and an angle are one complex normal. */
double noise_normal(struct noise *r)
{
	double radius = sqrt(-2 * log(1 - noise_uniform(r)));
	return radius * cos(2 * M_PI * noise_uniform(r));
}

void noise_add(struct noise *r, float complex *iq, size_t n, double power)
{
	float *p = (float *)iq, scale = (float)power;

	for (size_t i = 0; i < n; i++) {
		uint64_t z = noise_bits(r);
		float u = ((float)(z >> 40) + 0.5f) * 0x1p-24f;
		float a = (float)(z & 0xffffff) * (float)(2 * M_PI) * 0x1p-24f, s, c;
		float radius = sqrtf(-scale * logf(u));
		sincosf(a, &s, &c);
		p[2 * i] += radius * c;
		p[2 * i + 1] += radius * s;
	}
}

void tone_add(float complex *iq, size_t n, double power, double hz, double rate, double phase)
{
	double complex at = sqrt(power) * cexp(I * phase), by = cexp(2 * I * M_PI * hz / rate);

	for (size_t i = 0; i < n; i++, at *= by)
		iq[i] += (float complex)at;
}

static uint8_t byte_from(float x)
{
	float v = rintf(x * 127.5f + 127.5f);
	return (uint8_t)(v < 0 ? 0 : v > 255 ? 255 : v);
}

void bytes_from(const float complex *iq, size_t n, uint8_t *out)
{
	for (size_t i = 0; i < n; i++) {
		out[2 * i] = byte_from(crealf(iq[i]));
		out[2 * i + 1] = byte_from(cimagf(iq[i]));
	}
}
