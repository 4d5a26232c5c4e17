#include "store/strip.h"

#include <string.h>
#include <zlib.h>

#include "store/levels.h"

size_t strip_room(size_t n)
{
	return compressBound((uLong)n);
}

size_t strip_pack(const uint8_t *cells, size_t n, uint8_t *out)
{
	uLongf used = (uLongf)strip_room(n);

	return compress2(out, &used, cells, (uLong)n, Z_BEST_COMPRESSION) == Z_OK ? used : 0;
}

int strip_unpack(const uint8_t *packed, size_t packed_n, uint8_t *cells, size_t n)
{
	uLongf got = (uLongf)n;

	if (uncompress(cells, &got, packed, (uLong)packed_n) != Z_OK || got != n)
		goto bad;
	for (size_t i = 0; i < n; i++)
		if (cells[i] >= STRIP_HEARD + LEVEL_BINS)
			goto bad;
	return 0;
bad:
	memset(cells, STRIP_NOT_LOOKED, n);
	return -1;
}

bool strip_holds(const uint8_t *packed, size_t packed_n, size_t n)
{
	uint8_t piece[4096] = { 0 };
	z_stream z = { .next_in = (Bytef *)(uintptr_t)packed, .avail_in = (uInt)packed_n };
	size_t got = 0;
	bool good = true;
	int rc = inflateInit(&z);

	while (rc == Z_OK && good && got <= n) {
		z.next_out = piece;
		z.avail_out = sizeof piece;
		rc = inflate(&z, Z_NO_FLUSH);
		size_t more = sizeof piece - z.avail_out;
		for (size_t i = 0; i < more; i++)
			good = good && piece[i] < STRIP_HEARD + LEVEL_BINS;
		got += more;
	}
	inflateEnd(&z);
	return good && rc == Z_STREAM_END && got == n;
}

void strip_join(uint8_t *cells, const uint8_t *more, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (more[i] > cells[i])
			cells[i] = more[i];
}
