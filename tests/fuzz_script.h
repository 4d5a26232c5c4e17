#ifndef BANDCENSUS_TESTS_FUZZ_SCRIPT_H
#define BANDCENSUS_TESTS_FUZZ_SCRIPT_H

#include "tests/fuzz.h"

/* An input taken as a list of deeds: bytes as they are asked for; behind the last one come zeros. */
struct script {
	const uint8_t *at;
	size_t         left;
};

static inline uint8_t script_byte(struct script *s)
{
	if (s->left == 0)
		return 0;
	s->left--;
	return *s->at++;
}

/* 0 .. n - 1, n up to 65536. */
static inline uint32_t script_part(struct script *s, uint32_t n)
{
	uint32_t value = script_byte(s);

	if (n > 256)
		value = value << 8 | script_byte(s);
	return value % n;
}

#endif
