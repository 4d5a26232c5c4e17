#ifndef BANDCENSUS_DSP_DICE_H
#define BANDCENSUS_DSP_DICE_H

#include <math.h>
#include <stdint.h>

/* Seeded randomness (SplitMix64, Steele, Lea and Flood 2014; from memory). Equal
 * seeds give equal throws everywhere. */
struct dice {
	uint64_t state;
};

static inline uint64_t dice_mix(uint64_t z)
{
	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return z ^ (z >> 31);
}

/* Streams of one seed that share nothing. */
static inline struct dice dice_of(uint64_t seed, uint64_t stream)
{
	return (struct dice){ dice_mix(seed + UINT64_C(0x9e3779b97f4a7c15) * (stream + 1)) };
}

static inline uint64_t dice_bits(struct dice *d)
{
	d->state += UINT64_C(0x9e3779b97f4a7c15);
	return dice_mix(d->state);
}

/* Above 0, up to 1. */
static inline double dice_unit(struct dice *d)
{
	return (double)((dice_bits(d) >> 11) + 1) * 0x1p-53;
}

static inline double dice_between(struct dice *d, double low, double high)
{
	return low + (high - low) * dice_unit(d);
}

static inline double dice_exponential(struct dice *d, double mean)
{
	return -mean * log(dice_unit(d));
}

static inline double dice_normal(struct dice *d)
{
	double r = sqrt(-2 * log(dice_unit(d)));
	return r * cos(2 * M_PI * dice_unit(d));
}

/* At least 1, geometric, of that mean. */
static inline int dice_geometric(struct dice *d, double mean)
{
	return mean <= 1 ? 1 : 1 + (int)(log(dice_unit(d)) / log1p(-1 / mean));
}

#endif
