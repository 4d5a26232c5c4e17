#ifndef BANDCENSUS_STORE_DATABASE_H
#define BANDCENSUS_STORE_DATABASE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "store/fault.h"

/* The one door to SQLite: a connection, and the sorting of its errors into faults. What it
 * prepares is stepped through by statement.h. One owner, one thread. */
struct database;
struct statement;               /* freed with its database */

enum database_use {
	DATABASE_WRITE,         /* an existing file, empty or not; full sync, foreign keys on */
	DATABASE_READ,          /* never changes the file, but undoes what a writer that was cut
				 * off left half done; works on a read-only copy              */
	DATABASE_OWN            /* of no file (path is what faults call it), gone when closed */
};

/* What to do about a file that can't be what we wrote. */
#define DATABASE_DAMAGED "it is damaged, keep a copy and save what is left with bandcensus rescue"

/* The file may come from anybody: its triggers, views and virtual tables are never run, and
 * a row of more than 16 MiB is damage.
 * NULL with why filled: FAULT_INPUT when the file is no database or can't be opened, and that will not pass
 * (fault_kind_of). */
struct database *database_open(const char *path, enum database_use use, struct fault *why);
void database_close(struct database *d);        /* NULL is fine; undoes what is not committed */

/* Statements without results, several with ; between. */
int database_run(struct database *d, const char *sql, struct fault *why);

/* First column of the first row of a query: a whole number, or text cut to size. */
int database_number(struct database *d, const char *sql, int64_t *out, struct fault *why);
int database_word(struct database *d, const char *sql, char *out, size_t size, struct fault *why);

/* Writes all of it anew, without the pages that hold nothing. Not in a transaction. */
int database_shrink(struct database *d, struct fault *why);

bool database_in_transaction(const struct database *d);
int64_t database_last_id(const struct database *d);
int database_changes(const struct database *d); /* rows the last statement changed */

struct statement *database_prepare(struct database *d, const char *sql, struct fault *why);

#endif
