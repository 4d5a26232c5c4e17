#ifndef BANDCENSUS_TESTS_TOWN_TRUTH_H
#define BANDCENSUS_TESTS_TOWN_TRUTH_H

#include "tests/truth.h"

/* What a town's file sends from that start on; fails the test where it can't. */
struct truth *town_truth(const char *path, const char *start, uint64_t seed);

#endif
