#ifndef BANDCENSUS_TESTS_FUZZ_H
#define BANDCENSUS_TESTS_FUZZ_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

/* What libFuzzer calls, and fuzz_replay.c where no fuzzer drives it. */
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

/* A promise of the code under test that must hold for any input. */
static inline void promise(int kept, const char *what)
{
	if (kept)
		return;
	fprintf(stderr, "broken promise: %s\n", what);
	abort();
}

#endif
