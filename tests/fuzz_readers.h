#ifndef BANDCENSUS_TESTS_FUZZ_READERS_H
#define BANDCENSUS_TESTS_FUZZ_READERS_H

#include "tests/fuzz.h"

/* All that is done with a survey file from anybody, each held to its promises. */

/* Its rows, and their pictures; whether all could be read. must: they must. */
bool try_reading(const char *path, bool must);

/* What tells of it, changes it, or makes another of it. */
void try_pulse(const char *path);
void try_rescue(const char *path);
void try_writing(const char *path);
void try_thinning(const char *path);
void try_merging(const char *path);

/* Reads it, then does one of these: which is any number, to choose by. Where no fuzzer drives there is no
 * hurry, and all are done. */
void try_survey(const char *path, unsigned which);

#endif
