#ifndef BANDCENSUS_STORE_DATABASE_INSIDE_H
#define BANDCENSUS_STORE_DATABASE_INSIDE_H

#include <sqlite3.h>

#include "store/database.h"

/* For database.c and statement.c, which alone see SQLite. */

#define STATEMENTS 80

struct database {
	sqlite3      *db;
	sqlite3_stmt *owned[STATEMENTS];        /* finalized when it is closed */
	int           n_owned;
	char         *path;
};

/* -1 with why filled by what SQLite's code asks for. */
int database_fault(const struct database *d, int code, struct fault *why);

#endif
