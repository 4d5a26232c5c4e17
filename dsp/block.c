#include "dsp/block.h"

#include <stdint.h>

size_t sample_bytes(enum sample_format f)
{
	static const size_t bytes[SAMPLE_FORMATS] = { 2, 2, 4, 8 };
	return bytes[f];
}

static size_t clipped_u8(const uint8_t *p, size_t n, uint8_t low, uint8_t high)
{
	size_t hit = 0;
	for (size_t i = 0; i < n; i++)
		hit += (p[2 * i] == low) | (p[2 * i] == high) |
		       (p[2 * i + 1] == low) | (p[2 * i + 1] == high);
	return hit;
}

static size_t clipped_s16(const int16_t *p, size_t n)
{
	size_t hit = 0;
	for (size_t i = 0; i < n; i++)
		hit += p[2 * i] == INT16_MIN || p[2 * i] == INT16_MAX ||
		       p[2 * i + 1] == INT16_MIN || p[2 * i + 1] == INT16_MAX;
	return hit;
}

double block_clipped(const struct block *b)
{
	size_t hit = 0;

	if (b->n == 0)
		return 0;
	if (b->format == SAMPLE_CU8)
		hit = clipped_u8(b->iq, b->n, 0, 255);
	else if (b->format == SAMPLE_CI8)
		hit = clipped_u8(b->iq, b->n, 0x80, 0x7f);
	else if (b->format == SAMPLE_CI16)
		hit = clipped_s16(b->iq, b->n);
	return (double)hit / (double)b->n;
}
