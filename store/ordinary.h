#ifndef BANDCENSUS_STORE_ORDINARY_H
#define BANDCENSUS_STORE_ORDINARY_H

#include <stdint.h>
#include <stdio.h>

#include "store/fault.h"

/* Opens an ordinary file to be read, and nothing else: without waiting, for a pipe of that name must
 * not hold up whoever reads it. *bytes: its length now. A descriptor, to be closed by the caller; -1
 * with why: "PATH: can't be read: ...". */
int ordinary_open(const char *path, int64_t *bytes, struct fault *why);

/* The same as a stream; NULL with why. */
FILE *ordinary_stream(const char *path, int64_t *bytes, struct fault *why);

#endif
