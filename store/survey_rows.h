#ifndef BANDCENSUS_STORE_SURVEY_ROWS_H
#define BANDCENSUS_STORE_SURVEY_ROWS_H

#include <stddef.h>
#include <stdint.h>

#include "store/database.h"
#include "store/schema.h"
#include "store/statement.h"
#include "store/survey.h"

/* How the rows of a survey lie in its tables: one column a member, both ways,
 * and the statements made from that. For store/survey.c alone. */

#define SURVEY_SQL 2048                         /* room for any statement made here */

enum table_id {
	TABLE_BAND = 0,
	TABLE_RUN,
	TABLE_COVERAGE,
	TABLE_ACTIVITY,
	TABLE_TRANSMISSION,
	TABLE_INCIDENT,
	TABLE_ARTEFACT,
	TABLE_SETTING,
	TABLE_PARKED,
	TABLE_STRIP,
	TABLE_COUNT
};

/* A band and its index, which its struct does not carry. */
struct band_row {
	int32_t     band;
	struct band what;
};

/* Statements, written to sql: into a file of the newest version, and all rows in order out of
 * one of that version, where what came later reads as not known. */
void survey_insert_sql(enum table_id t, char sql[SURVEY_SQL]);
void survey_select_sql(enum table_id t, int version, char sql[SURVEY_SQL]);

/* Some rows of a file of the newest version: which is what stands after FROM and the table. */
void survey_choose_sql(enum table_id t, const char *which, char sql[SURVEY_SQL]);

/* Sets the parameters of survey_insert_sql; bytes holds what they borrow. */
struct row_bytes {
	uint8_t levels[LEVEL_BINS * 19];
	char    splits[BAND_SPLITS_TEXT];
};
void survey_set_row(enum table_id t, struct statement *q, const void *row,
		    struct row_bytes *bytes);

/* Fills row from the current row of survey_select_sql. The name of the column
 * that holds what it never should, or NULL. */
const char *survey_get_row(enum table_id t, struct statement *q, void *row);

const char *survey_table_name(enum table_id t);

/* Room for a row of any table. */
union any_row {
	struct band_row         band;
	struct run_row          run;
#define MEMBER(noun) struct noun##_row noun;
	SURVEY_NOUNS(MEMBER)
#undef MEMBER
};

/* Where a row says of which run and which band it is; NULL: it does not. */
int64_t *survey_row_run(enum table_id t, void *row);
int32_t *survey_row_band(enum table_id t, void *row);

#endif
