#include "store/statement.h"

#include <assert.h>

#include "store/database_inside.h"

/* Setting can't fail: nothing is copied, and the counts are those of our tables. */
static void must_be_ok(int rc)
{
	assert(rc == SQLITE_OK);
	(void)rc;
}

void statement_set_int(struct statement *q, int at, int64_t value)
{
	must_be_ok(sqlite3_bind_int64((sqlite3_stmt *)q, at, value));
}

void statement_set_text(struct statement *q, int at, const char *text)
{
	must_be_ok(sqlite3_bind_text((sqlite3_stmt *)q, at, text, -1, SQLITE_STATIC));
}

void statement_set_blob(struct statement *q, int at, const void *bytes, size_t n)
{
	must_be_ok(sqlite3_bind_blob((sqlite3_stmt *)q, at, bytes, (int)n, SQLITE_STATIC));
}

void statement_set_part(struct statement *q, int at, const void *text, size_t n)
{
	must_be_ok(sqlite3_bind_text((sqlite3_stmt *)q, at, text, (int)n, SQLITE_STATIC));
}

int statement_step(struct database *d, struct statement *q, struct fault *why)
{
	int rc = sqlite3_step((sqlite3_stmt *)q);

	if (rc == SQLITE_ROW)
		return 1;
	if (rc != SQLITE_DONE)
		database_fault(d, rc, why);
	sqlite3_reset((sqlite3_stmt *)q);
	return rc == SQLITE_DONE ? 0 : -1;
}

int statement_try(struct database *d, struct statement *q, struct fault *why)
{
	int rc = sqlite3_step((sqlite3_stmt *)q);
	int finer = sqlite3_extended_errcode(d->db);

	sqlite3_reset((sqlite3_stmt *)q);
	if (rc == SQLITE_DONE)
		return STATEMENT_DONE;
	if (finer == SQLITE_CONSTRAINT_PRIMARYKEY || finer == SQLITE_CONSTRAINT_UNIQUE ||
	    finer == SQLITE_CONSTRAINT_ROWID)
		return STATEMENT_AGAIN;
	if ((rc & 0xff) == SQLITE_CONSTRAINT || (rc & 0xff) == SQLITE_MISMATCH)
		return STATEMENT_REFUSED;
	return database_fault(d, rc, why);
}

void statement_reset(struct statement *q)
{
	sqlite3_reset((sqlite3_stmt *)q);
}

enum value_type statement_type(struct statement *q, int at)
{
	static const enum value_type types[] = {
		[SQLITE_INTEGER] = VALUE_INT, [SQLITE_TEXT] = VALUE_TEXT,
		[SQLITE_BLOB] = VALUE_BLOB,   [SQLITE_FLOAT] = VALUE_OTHER,
		[SQLITE_NULL] = VALUE_OTHER,
	};

	return types[sqlite3_column_type((sqlite3_stmt *)q, at)];
}

bool statement_whole(struct statement *q, int at, int64_t *out)
{
	/* SQLite warns that values are then not safe from other threads: a database has one. */
	sqlite3_value *v = sqlite3_column_value((sqlite3_stmt *)q, at);
	bool whole = sqlite3_value_type(v) == SQLITE_INTEGER;

	*out = whole ? sqlite3_value_int64(v) : 0;
	return whole;
}

int64_t statement_int(struct statement *q, int at)
{
	return sqlite3_column_int64((sqlite3_stmt *)q, at);
}

const char *statement_text(struct statement *q, int at)
{
	const unsigned char *text = sqlite3_column_text((sqlite3_stmt *)q, at);

	return text ? (const char *)text : "";
}

const uint8_t *statement_blob(struct statement *q, int at, size_t *n)
{
	const void *bytes = sqlite3_column_blob((sqlite3_stmt *)q, at);

	*n = bytes ? (size_t)sqlite3_column_bytes((sqlite3_stmt *)q, at) : 0;
	return bytes;
}
