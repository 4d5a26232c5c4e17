#ifndef BANDCENSUS_TESTS_FUZZ_LOG_H
#define BANDCENSUS_TESTS_FUZZ_LOG_H

#include "tests/fuzz_made.h"

/* Moves pages of a database of n bytes into a log beside it, path-wal, as the script says; they are zeros in
 * the file then. Layout and sums after sqlite.org/fileformat2.html, "The WAL-Mode File Format" (from memory;
 * that SQLite reads them is what says they are right). Returns how many bytes of the file are left. */
size_t made_log(struct script *s, const char *path, unsigned char *bytes, size_t n, uint32_t page);

#endif
