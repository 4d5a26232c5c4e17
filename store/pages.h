#ifndef BANDCENSUS_STORE_PAGES_H
#define BANDCENSUS_STORE_PAGES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "store/fault.h"

/* A survey file read page by page, without the program that wrote it: for what is left of a
 * damaged one. After "Database File Format" of the SQLite project (public domain; from memory,
 * proved by tests on files that SQLite wrote). Nothing in the file is believed: a page counts
 * only when all its bytes are accounted for, cell by cell. Nothing is ever written. */
struct pages;

/* The file, and what the log beside it holds up to its last whole commit. */
struct pages *pages_open(const char *path, struct fault *why);
void pages_close(struct pages *p);              /* NULL is fine */

uint32_t pages_count(const struct pages *p);    /* pages are 1 .. count */
int pages_version(const struct pages *p);       /* the file's user_version; 0: its head is lost */
bool pages_free(const struct pages *p, uint32_t page);  /* holds nothing, says the file's own list */

bool pages_chained(const struct pages *p, uint32_t page);       /* holds more of a row that was read */

enum page_kind {
	PAGE_BAD = 0,           /* none of the following, or not in order */
	PAGE_BRANCH = 5,        /* of a table by row number: no rows      */
	PAGE_LEAF = 13,
	PAGE_KEY_BRANCH = 2,    /* of a table by key, or an index: rows   */
	PAGE_KEY_LEAF = 10,
	PAGE_EMPTY = 256        /* in order, and holds nothing            */
};

/* Makes a page the one in hand, and tells what it is and how many cells it has. */
enum page_kind pages_take(struct pages *p, uint32_t page, int *cells);

/* What a row is made of. Bytes are borrowed until the next cell. */
enum part_type { PART_NONE = 0, PART_INT, PART_TEXT, PART_BLOB, PART_OTHER };
struct part {
	enum part_type type;
	int64_t        number;
	const uint8_t *bytes;
	size_t         n;
};

/* A cell of the page in hand: its row number, the page below it, its parts (at most room).
 * How many parts; -1: it is no row. A branch has none. */
struct cell {
	int64_t  id;
	uint32_t below;
};
int pages_cell(struct pages *p, int at, struct cell *c, struct part *parts, int room);

/* The last page below the branch in hand. */
uint32_t pages_last_below(const struct pages *p);

#endif
