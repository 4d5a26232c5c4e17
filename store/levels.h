#ifndef BANDCENSUS_STORE_LEVELS_H
#define BANDCENSUS_STORE_LEVELS_H

#include <stddef.h>
#include <stdint.h>

#include "store/survey.h"

/* A level histogram as a few bytes. For every bin that is not empty, rising:
 * how many bins were skipped since the one before, the busy microseconds, the
 * busy looks; each a whole number, seven bits a byte, low bits first, the high
 * bit set on all but its last byte. Nothing above the floor: no bytes. */
#define LEVELS_ROOM (LEVEL_BINS * (1 + 9 + 9))

/* us and looks are never negative. Bytes used. */
size_t levels_pack(const int64_t us[LEVEL_BINS], const int64_t looks[LEVEL_BINS],
		   uint8_t out[LEVELS_ROOM]);

/* -1 when the bytes are no histogram; us and looks are then all zero. */
int levels_unpack(const uint8_t *bytes, size_t n, int64_t us[LEVEL_BINS], int64_t looks[LEVEL_BINS]);

#endif
