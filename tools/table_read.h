#ifndef BANDCENSUS_TOOLS_TABLE_READ_H
#define BANDCENSUS_TOOLS_TABLE_READ_H

#include <stddef.h>

#include "store/fault.h"

/* CSV as in RFC 4180, written by anybody: lines that begin with # and empty ones are passed
 * over, lines may end in LF alone, a byte order mark may stand in front. */

struct table_limits {
	int         fields;             /* in a record at most                      */
	size_t      bytes;              /* in a field at most                       */
	const char *shape;              /* what a record must have; NULL: no such words */
};

/* One record; borrowed until the reader goes on. Its fields are fit to be printed (text_tame)
 * and have no spaces about them. */
struct table_row {
	const char *path;
	int         line;               /* on which it begins                       */
	int         fields;             /* at least one                             */
	char      **field;
};

/* Gives take the records in order until it returns less than 0, having filled why. 0, or -1
 * with FILE:LINE in why: quotes or line ends amiss, a zero byte, too many or too long fields. */
int table_read(const char *path, const struct table_limits *limits,
	       int (*take)(void *self, const struct table_row *row, struct fault *why), void *self,
	       struct fault *why);

#endif
