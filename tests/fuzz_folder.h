#ifndef BANDCENSUS_TESTS_FUZZ_FOLDER_H
#define BANDCENSUS_TESTS_FUZZ_FOLDER_H

#include "tests/fuzz.h"

/* An empty folder of one input, in memory where there is such, and away with it and all in it. */
void fuzz_folder(char out[64]);
void fuzz_folder_drop(const char *folder);

#endif
