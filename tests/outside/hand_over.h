#ifndef BANDCENSUS_TESTS_OUTSIDE_HAND_OVER_H
#define BANDCENSUS_TESTS_OUTSIDE_HAND_OVER_H

#include <stddef.h>

/* Writes n items to FOLDER/NAME, for another program to check. 0 or -1. */
int hand_over(const char *folder, const char *name, const void *p, size_t size, size_t n);

#endif
