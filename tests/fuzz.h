#ifndef BANDCENSUS_TESTS_FUZZ_H
#define BANDCENSUS_TESTS_FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "store/fault.h"

/* What libFuzzer calls, and fuzz_replay.c where no fuzzer drives it. */
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerInitialize(int *argc, char ***argv);      /* once before, where there is one */

/* A promise of the code under test that must hold for any input. */
static inline void promise(int kept, const char *what)
{
	if (kept)
		return;
	fprintf(stderr, "broken promise: %s\n", what);
	abort();
}

/* Whatever went wrong is told in one line. */
static inline void promise_told(const struct fault *why)
{
	promise(why->kind != FAULT_NONE && why->text[0] != '\0', "a refusal says why");
	for (const char *p = why->text; *p; p++)
		promise((unsigned char)*p >= ' ' && *p != 0x7f, "a refusal is one line");
}

/* And it is the input that is to be mended. */
static inline void promise_refusal(const struct fault *why)
{
	promise(why->kind == FAULT_INPUT, "a refusal is for a person to mend");
	promise_told(why);
}

#endif
