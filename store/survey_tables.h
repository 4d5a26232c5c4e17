#ifndef BANDCENSUS_STORE_SURVEY_TABLES_H
#define BANDCENSUS_STORE_SURVEY_TABLES_H

#include <stddef.h>

#include "store/survey_rows.h"

/* What the columns of a survey's tables hold, and where in its row each has its place. A file may come from
 * anybody, so each type has its bounds: within them no reader's sums and differences leave 64 bits. For
 * store/survey_rows.c alone. */

enum column_type {
	COLUMN_END = 0,
	COLUMN_ID,              /* int64_t, given by the database      */
	COLUMN_WIDE,            /* int64_t                             */
	COLUMN_RUN,             /* int64_t, the id of one              */
	COLUMN_THIRDS,          /* int64_t, of a hertz: not negative   */
	COLUMN_TIME,            /* int64_t, UTC: 1970 to 9999          */
	COLUMN_LENGTH,          /* int64_t, microseconds: not negative */
	COLUMN_EDGE,            /* the same, or -1: nobody looked      */
	COLUMN_MANY,            /* int64_t, a count: not negative      */
	COLUMN_INT,             /* int32_t                             */
	COLUMN_HOURS,           /* int32_t, of a day                   */
	COLUMN_TEXT,            /* char[size]                          */
	COLUMN_SCALED,          /* double, kept as a whole number of 1/scale */
	COLUMN_MODE,            /* enum mode, by name                  */
	COLUMN_KIND,            /* enum kind, by name                  */
	COLUMN_BELOW,           /* enum below, by name                 */
	COLUMN_SPLITS,          /* of struct band, as band_splits_text */
	COLUMN_STRING,          /* const char *, borrowed              */
	COLUMN_BYTES,           /* struct bytes, borrowed              */
	COLUMN_LEVELS,          /* level and level_looks, packed       */
	COLUMN_TYPES
};

struct column {
	const char      *name;
	enum column_type type;
	size_t           at;            /* offsetof in the row */
	size_t           size;
	double           scale;
	int              since;         /* version that brought it; 0: the first */
};

struct table {
	const char          *name;
	const struct column *columns;
	const char          *adding;    /* after the values: what to do about a row that is there */
	const char          *order;
	int                  since;
};

extern const struct table survey_tables[TABLE_COUNT];

/* Between which the whole numbers of a type must lie. */
struct column_bounds {
	int64_t least, most;
};
extern const struct column_bounds survey_bounds[COLUMN_TYPES];

#endif
