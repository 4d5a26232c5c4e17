#ifndef BANDCENSUS_STORE_SURVEY_FILE_H
#define BANDCENSUS_STORE_SURVEY_FILE_H

#include <limits.h>
#include <stdbool.h>

#include "store/database.h"
#include "store/statement.h"
#include "store/survey.h"
#include "store/survey_rows.h"

/* The inside of an open survey, shared by its parts: store/survey.c opens and reads,
 * store/survey_write.c writes, store/picture.c joins strips, store/thin.c drops what is
 * old, store/pulse.c asks how it goes. For nobody else. */
enum picture_statement { PICTURE_ROWS = 0, PICTURE_DROP, PICTURE_FIND, PICTURE_STATEMENTS };

struct survey {
	char              path[PATH_MAX];
	struct database  *db;
	bool              writing;
	int               lock;                 /* the writer's; -1: none */
	int               version;              /* 0: an empty file       */
	struct band      *bands;
	int               n_bands;
	struct statement *add[TABLE_COUNT], *each[TABLE_COUNT];
	struct statement *old_activity, *end_run;
	struct statement *picture[PICTURE_STATEMENTS];  /* as they are needed  */
	struct statement *aged[TABLE_COUNT];            /* likewise, of accounts */
	char             *tamed[2];             /* file and text of the setting in hand */
};

struct survey *survey_create(const char *path, struct fault *why);

/* Like survey_read, but what is empty is of version 0 and can't be walked. */
struct survey *survey_look(const char *path, struct fault *why);

/* Like survey_read, for who comes again every few seconds: rows are looked at, the file as a whole is not. */
struct survey *survey_glance(const char *path, struct fault *why);

/* What can be told from outside: no file at all (missing set, where that may
 * be; else a fault), a folder, a device. */
int survey_check_path(const char *path, bool *missing, struct fault *why);

/* Fills version; FAULT_INPUT for what is no survey, and for a newer one. */
int survey_identify(struct survey *s, struct fault *why);

int survey_prepare_reading(struct survey *s, struct fault *why);
int survey_load_bands(struct survey *s, struct fault *why);

/* The next row of a walk: 1 with row filled, 0 at the end, -1. A walk that is left early
 * wants its statement reset. */
int survey_next_row(struct survey *s, enum table_id t, void *row, struct fault *why);

/* Inside begin .. commit: tables and bands into an empty file, or an older one made new;
 * and a row as it is. */
int survey_lay_out(struct survey *s, const struct band *bands, int n_bands, struct fault *why);
int survey_add_row(struct survey *s, enum table_id t, const void *row, struct fault *why);

/* Whether a row lies in a band and channel there is: readers use them as indices. */
bool survey_in_place(const struct survey *s, enum table_id t, const void *row);

/* A column holds what it never should: fatal. */
int survey_damaged(const struct survey *s, enum table_id t, const char *column,
		   struct fault *why);

#endif
