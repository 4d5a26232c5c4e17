#ifndef BANDCENSUS_TESTS_FUZZ_MADE_H
#define BANDCENSUS_TESTS_FUZZ_MADE_H

#include "tests/fuzz.h"

/* A survey made of bytes, for targets whose readers would turn away nearly all random files: a small whole
 * night of an older or the newest version, then changed by what the bytes say: values of another type or
 * without bound, rows that are gone or there twice, the schema's text, bytes of pages, a log beside it. */

/* Bytes as they are asked for; behind the last one come zeros. */
struct script {
	const uint8_t *at;
	size_t         left;
};
uint8_t script_byte(struct script *s);
uint32_t script_part(struct script *s, uint32_t n);     /* 0 .. n - 1, n up to 65536 */

/* Writes the survey to path, and to path-wal where there is to be a log. What is left of the script are
 * its reader's own. */
void made_survey(struct script *s, const char *path);

#endif
