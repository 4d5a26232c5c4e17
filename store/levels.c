#include "store/levels.h"

#include <assert.h>
#include <string.h>

static uint8_t *put_number(uint8_t *to, int64_t value)
{
	assert(value >= 0);
	for (; value > 0x7f; value >>= 7)
		*to++ = (uint8_t)(value & 0x7f) | 0x80;
	*to++ = (uint8_t)value;
	return to;
}

/* The byte after the number, or NULL when it has no end or passes 63 bits. */
static const uint8_t *get_number(const uint8_t *from, const uint8_t *end, int64_t *value)
{
	*value = 0;
	for (int shift = 0; from < end && shift < 63; shift += 7) {
		*value |= (int64_t)(*from & 0x7f) << shift;
		if (!(*from++ & 0x80))
			return from;
	}
	return NULL;
}

size_t levels_pack(const int64_t us[LEVEL_BINS], const int64_t looks[LEVEL_BINS],
		   uint8_t out[LEVELS_ROOM])
{
	uint8_t *to = out;
	int next = 0;

	for (int i = 0; i < LEVEL_BINS; i++) {
		if (!us[i] && !looks[i])
			continue;
		to = put_number(to, i - next);
		to = put_number(to, us[i]);
		to = put_number(to, looks[i]);
		next = i + 1;
	}
	return (size_t)(to - out);
}

int levels_unpack(const uint8_t *bytes, size_t n, int64_t us[LEVEL_BINS], int64_t looks[LEVEL_BINS])
{
	const uint8_t *end = n ? bytes + n : bytes;
	int64_t skip;
	int64_t next = 0;

	memset(us, 0, LEVEL_BINS * sizeof us[0]);
	memset(looks, 0, LEVEL_BINS * sizeof looks[0]);
	while (bytes != end) {
		bytes = get_number(bytes, end, &skip);
		if (!bytes || skip >= LEVEL_BINS - next)
			goto damaged;
		next += skip;
		bytes = get_number(bytes, end, &us[next]);
		if (bytes)
			bytes = get_number(bytes, end, &looks[next]);
		if (!bytes)
			goto damaged;
		next++;
	}
	return 0;
damaged:
	memset(us, 0, LEVEL_BINS * sizeof us[0]);
	memset(looks, 0, LEVEL_BINS * sizeof looks[0]);
	return -1;
}
