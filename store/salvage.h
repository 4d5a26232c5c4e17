#ifndef BANDCENSUS_STORE_SALVAGE_H
#define BANDCENSUS_STORE_SALVAGE_H

#include "store/pages.h"
#include "store/survey_file.h"

/* What can be read of a damaged survey: every page of it that is whole and holds nothing but rows of
 * one of our tables, wherever the tables' own trees have lost it. The rows lie in a survey of our
 * own, each as it was found. For store/rescue.c. */

#define SALVAGE_COLUMNS 32

/* How a table's rows lie in its pages: those by key have the key's columns first. */
struct layout {
	bool by_key;
	int  columns, least;            /* rows from before a column came are shorter */
	int  keys;
	struct {
		char           name[24];
		enum part_type type;    /* PART_NONE: the row's number, kept beside it */
	} column[SALVAGE_COLUMNS];
	struct statement *put[SALVAGE_COLUMNS + 1];     /* by how many columns there are */
	struct statement *find;         /* the row just put                          */
};

enum holds { HOLDS_LOST = 0, HOLDS_NOTHING, HOLDS_OTHER, HOLDS_TABLE };    /* + table_id */

struct salvage {
	struct pages  *pages;
	struct survey *stage;           /* its bands have holes: count 0 is a band that is lost */
	struct layout  layout[TABLE_COUNT];
	uint8_t       *holds;           /* [pages + 1] enum holds                 */
	int64_t        rows[TABLE_COUNT];
	int64_t        highest_id[TABLE_COUNT]; /* rows are numbered 1, 2 ...; 0: not so */
	int64_t        pages_lost;
};

struct salvage *salvage_open(const char *path, struct fault *why);
void salvage_close(struct salvage *s);          /* NULL is fine */

/* The channels of which activity may have been lost: keys from .. to, both among them. A channel's
 * key is its band's number in the high half and its own in the low one. */
#define SALVAGE_CHANNELS_END INT64_MAX
struct doubt {
	int64_t from, to;
};
int64_t salvage_key(int32_t band, int32_t channel);

/* How many; doubts is to be freed, and in order. -1: no memory. */
int salvage_doubts(struct salvage *s, struct doubt **doubts);

#endif
