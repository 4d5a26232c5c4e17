#ifndef BANDCENSUS_TESTS_FUZZ_MADE_H
#define BANDCENSUS_TESTS_FUZZ_MADE_H

#include "tests/fuzz_script.h"

/* A survey made of bytes, for targets whose readers would turn away nearly all random files: a small whole
 * night of an older or the newest version, then changed by what the bytes say: values of another type or
 * without bound, rows that are gone or there twice, the schema's text, bytes of pages, a log beside it. */

/* Writes the survey to path, and to path-wal where there is to be a log. What is left of the script are
 * its reader's own. */
void made_survey(struct script *s, const char *path);

#endif
