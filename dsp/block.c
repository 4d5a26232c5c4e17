#include "dsp/block.h"

#include "dsp/hot.h"

#include <stdint.h>

size_t sample_bytes(enum sample_format f)
{
	static const size_t bytes[SAMPLE_FORMATS] = { 2, 2, 4, 8 };
	return bytes[f];
}

#define CHUNK 4096

/* Of the usual chunk nothing is clipped: that is told sooner than how much is. */
#define CLIPPED(name, type)                                                                  \
	HOT static uint32_t name(const type *p, size_t n, type low, type high)               \
	{                                                                                    \
		uint32_t hit = 0;                                                            \
		type any = 0;                                                                \
		for (size_t i = 0; i < 2 * n; i++)                                           \
			any |= (type)((p[i] == low) | (p[i] == high));                       \
		for (size_t i = 0; any && i < n; i++)                                        \
			hit += (p[2 * i] == low) | (p[2 * i] == high) |                      \
			       (p[2 * i + 1] == low) | (p[2 * i + 1] == high);               \
		return hit;                                                                  \
	}
CLIPPED(clipped_u8, uint8_t)
CLIPPED(clipped_s16, int16_t)

double block_clipped(const struct block *b)
{
	uint64_t hit = 0;

	for (size_t i = 0; i < b->n; i += CHUNK) {
		size_t n = b->n - i < CHUNK ? b->n - i : CHUNK;
		if (b->format == SAMPLE_CU8)
			hit += clipped_u8((const uint8_t *)b->iq + 2 * i, n, 0, 255);
		else if (b->format == SAMPLE_CI8)
			hit += clipped_u8((const uint8_t *)b->iq + 2 * i, n, 0x80, 0x7f);
		else if (b->format == SAMPLE_CI16)
			hit += clipped_s16((const int16_t *)b->iq + 2 * i, n, INT16_MIN, INT16_MAX);
	}
	if (b->n == 0)
		return 0;
	return (double)hit / (double)b->n;
}
