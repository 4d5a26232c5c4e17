#ifndef BANDCENSUS_STORE_STRIP_H
#define BANDCENSUS_STORE_STRIP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What each channel of a band was like, cell of time by cell: cells x channels bytes, all
 * channels of a cell together, deflated (RFC 1950). zlib's one home. */

#define STRIP_NOT_LOOKED 0      /* nobody looked at the channel then             */
#define STRIP_QUIET      1      /* looked at, nothing over the floor             */
#define STRIP_HEARD      2      /* + d: its strongest look was d whole dB over it, 0 <= d < LEVEL_BINS */

#define STRIP_MINUTE_US INT64_C(60000000)

/* Room that packing n bytes may want. */
size_t strip_room(size_t n);

/* Bytes used of out[strip_room(n)]; 0: no memory. */
size_t strip_pack(const uint8_t *cells, size_t n, uint8_t *out);

/* -1 when packed does not hold n good cells; cells is then all STRIP_NOT_LOOKED. */
int strip_unpack(const uint8_t *packed, size_t packed_n, uint8_t *cells, size_t n);

/* Whether strip_unpack would find n good cells, without room for them. */
bool strip_holds(const uint8_t *packed, size_t packed_n, size_t n);

/* More of the same cells: of each the higher. */
void strip_join(uint8_t *cells, const uint8_t *more, size_t n);

#endif
