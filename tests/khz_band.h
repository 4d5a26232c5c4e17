#ifndef BANDCENSUS_TESTS_KHZ_BAND_H
#define BANDCENSUS_TESTS_KHZ_BAND_H

#include "dsp/band.h"

/* A band of channels from low to high, in steps of so many thirds of a hertz. */
#define KHZ_BAND(i, low_khz, high_khz, thirds, m) { .id = i, .mode = m, .raster = { \
	.first = { INT64_C(3000) * (low_khz) }, .step = { thirds }, \
	.count = (int32_t)(((high_khz) - (low_khz)) * INT64_C(3000) / (thirds)) } }

#endif
