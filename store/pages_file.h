#ifndef BANDCENSUS_STORE_PAGES_FILE_H
#define BANDCENSUS_STORE_PAGES_FILE_H

#include "store/pages.h"

/* The inside of an open file, shared by the two halves of pages: store/pages_file.c finds its pages,
 * in the file or the log, and store/pages.c reads them. For nobody else. */

#define PAGE_MOST    65536
#define PAYLOAD_MOST (16 << 20)         /* store/database.c allows no longer  */

struct pages {
	int       fd, log;              /* log -1: none                               */
	uint32_t  size, usable;         /* bytes of a page; without what it reserves  */
	uint32_t  count;
	int64_t  *in_log;               /* [count + 1] where in the log; 0: in the file */
	bool     *free;                 /* [count + 1]                                */
	uint64_t *owner;                /* [count + 1] the cell whose row it goes on with */
	uint32_t  page;                 /* in hand                                    */
	enum page_kind kind;
	int       cells;
	uint8_t   bytes[PAGE_MOST], other[PAGE_MOST];
	uint8_t   used[PAGE_MOST];      /* of the page in hand, byte by byte          */
	uint8_t  *payload;
};

/* A page's bytes, as the last commit left them. */
bool pages_fetch(const struct pages *p, uint32_t page, uint8_t *to);

bool pages_is_header(const uint8_t *page);

static inline uint32_t big2(const uint8_t *b)
{
	return (uint32_t)b[0] << 8 | b[1];
}

static inline uint32_t big4(const uint8_t *b)
{
	return big2(b) << 16 | big2(b + 2);
}

#endif
