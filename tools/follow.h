#ifndef BANDCENSUS_TOOLS_FOLLOW_H
#define BANDCENSUS_TOOLS_FOLLOW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "store/fault.h"

/* Shows how a survey goes (store/pulse.h), anew every so often, until its run has ended or a person
 * stops it. On a terminal in place, as much as fits; else block after block, or with json a line
 * of it each. -1 with why: it can't be read, or stdout can't be written. */
int follow(const char *path, int64_t every_us, bool json, struct fault *why);

/* How much of a text fits on a screen of so many columns and rows: bytes of out, which has room for
 * size. Each line is cut at the columns (a character counts as one), never amid a character, and
 * cleared to its end; what is below it too. */
size_t follow_fit(const char *text, int columns, int rows, char *out, size_t size);

#endif
