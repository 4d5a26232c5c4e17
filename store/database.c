#include "store/database.h"

#include <assert.h>
#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/database_inside.h"
#include "store/statement.h"

#define BUSY_MS      5000
#define ROW_BYTES    (16 << 20)         /* no row of ours comes near: a longer one is damage */

/* What to do next about a result code; what is not here is a defect of ours or
 * of the machine, and fatal. */
static const struct {
	int             code;
	enum fault_kind kind;
	const char     *remedy;
} remedies[] = {
	{ SQLITE_FULL, FAULT_RETRY, "the disk is full, make room" },
	{ SQLITE_BUSY, FAULT_RETRY, "another program holds it, try again" },
	{ SQLITE_LOCKED, FAULT_RETRY, "another program holds it, try again" },
	{ SQLITE_IOERR, FAULT_RETRY, "the disk did not answer, check it and try again" },
	{ SQLITE_NOMEM, FAULT_RETRY, "out of memory, try again" },
	{ SQLITE_CANTOPEN, FAULT_INPUT, "it can't be opened, check its folder and who may use it" },
	{ SQLITE_READONLY, FAULT_INPUT, "it can't be written, check its disk and who may use it" },
	{ SQLITE_PERM, FAULT_INPUT, "it can't be opened, check who may use it" },
	{ SQLITE_NOTADB, FAULT_INPUT, "it is no survey" },
	{ SQLITE_CORRUPT, FAULT_FATAL, DATABASE_DAMAGED },
	{ SQLITE_TOOBIG, FAULT_FATAL, DATABASE_DAMAGED },
};

/* Whether it could not be opened or written for what may pass. What can't be opened for writing is
 * opened for reading, and forgets why. */
static bool passes(const struct database *d, int kind)
{
	if (kind == SQLITE_READONLY)
		return access(d->path, W_OK) < 0 && fault_kind_of(errno) == FAULT_RETRY;
	return kind == SQLITE_CANTOPEN && fault_kind_of(sqlite3_system_errno(d->db)) == FAULT_RETRY;
}

int database_fault(const struct database *d, int code, struct fault *why)
{
	int kind = code & 0xff;

	/* A full disk under what it maps, stretches or makes is another error to SQLite. */
	if ((kind == SQLITE_IOERR || kind == SQLITE_CANTOPEN) && sqlite3_system_errno(d->db) == ENOSPC)
		kind = SQLITE_FULL;
	for (size_t i = 0; i < sizeof remedies / sizeof remedies[0]; i++)
		if (remedies[i].code == kind)
			return fault_set(why, passes(d, kind) ? FAULT_RETRY : remedies[i].kind,
					 "%s: %s", d->path, remedies[i].remedy);
	return fault_set(why, FAULT_FATAL, "%s: %s (%d)", d->path,
			 d->db ? sqlite3_errmsg(d->db) : sqlite3_errstr(code), code);
}

/* "file:" and the path with everything but the plainest characters escaped. */
static char *immutable_uri(const char *path)
{
	static const char head[] = "file:", tail[] = "?immutable=1";
	char *uri = malloc(sizeof head + 3 * strlen(path) + sizeof tail);
	char *to = uri;

	if (!uri)
		return NULL;
	to += sprintf(to, "%s", head);
	for (; *path; path++)
		if (isalnum((unsigned char)*path) || strchr("/._-", *path))
			*to++ = *path;
		else
			to += sprintf(to, "%%%02X", (unsigned)(unsigned char)*path);
	strcpy(to, tail);
	return uri;
}

/* A file may come from anybody: what it holds besides tables is never run, its pages are
 * looked at before they are used, and nothing in it makes us ask for memory without bound. */
static int harden(sqlite3 *db)
{
	static const struct { int what, value; } guards[] = {
		{ SQLITE_DBCONFIG_DEFENSIVE, 1 }, { SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0 },
		{ SQLITE_DBCONFIG_ENABLE_TRIGGER, 0 }, { SQLITE_DBCONFIG_ENABLE_VIEW, 0 },
		{ SQLITE_DBCONFIG_ENABLE_LOAD_EXTENSION, 0 },
	};

	for (size_t i = 0; i < sizeof guards / sizeof guards[0]; i++) {
		int rc = sqlite3_db_config(db, guards[i].what, guards[i].value, NULL);
		if (rc != SQLITE_OK)
			return rc;
	}
	sqlite3_limit(db, SQLITE_LIMIT_LENGTH, ROW_BYTES);
	sqlite3_limit(db, SQLITE_LIMIT_ATTACHED, 0);
	return sqlite3_exec(db, "PRAGMA cell_size_check=ON; PRAGMA mmap_size=0", NULL, NULL, NULL);
}

/* Opening alone reads nothing; this touches the first page, and the log beside it. */
static int open_and_touch(struct database *d, const char *name, int flags)
{
	int rc = sqlite3_open_v2(name, &d->db, flags | SQLITE_OPEN_NOMUTEX, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_busy_timeout(d->db, BUSY_MS);
	if (rc == SQLITE_OK)
		rc = harden(d->db);
	if (rc == SQLITE_OK)
		rc = sqlite3_exec(d->db, "PRAGMA schema_version", NULL, NULL, NULL);
	return rc;
}

/* A log that holds something must be read; without one the file alone is all. */
static bool has_log(const char *path)
{
	char log[4096];
	struct stat st;

	snprintf(log, sizeof log, "%s-wal", path);
	return stat(log, &st) == 0 && st.st_size > 0;
}

/* A copy that can't be written, and has no log: nobody writes it, so it can be taken to stand still. */
static int open_still(struct database *d)
{
	char *uri = immutable_uri(d->path);
	int rc = SQLITE_NOMEM;

	if (uri)
		rc = open_and_touch(d, uri, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI);
	free(uri);
	return rc;
}

/* A writer was cut off in the middle of beginning or ending, and left the journal that undoes it:
 * SQLite goes back by itself when it may write. */
static int go_back(struct database *d)
{
	int rc = open_and_touch(d, d->path, SQLITE_OPEN_READWRITE);

	sqlite3_close(d->db);
	d->db = NULL;
	return rc == SQLITE_OK ? open_and_touch(d, d->path, SQLITE_OPEN_READONLY) : rc;
}

static int open_for_reading(struct database *d)
{
	int rc = open_and_touch(d, d->path, SQLITE_OPEN_READONLY);
	bool cut_off = sqlite3_extended_errcode(d->db) == SQLITE_READONLY_ROLLBACK;
	int plain = rc & 0xff;

	if (!cut_off && ((plain != SQLITE_CANTOPEN && plain != SQLITE_READONLY) || has_log(d->path)))
		return rc;
	sqlite3_close(d->db);
	d->db = NULL;
	return cut_off ? go_back(d) : open_still(d);
}

/* Every commit reaches the disk: a power cut in the night costs the open transaction
 * alone. Transmissions are read by an index that jumps about in their table, so a
 * reader keeps 64 MiB of it, which halves the time of a long walk. */
static const char *const manners[] = {
	[DATABASE_WRITE] = "PRAGMA foreign_keys=ON; PRAGMA synchronous=FULL",
	[DATABASE_READ] = "PRAGMA cache_size=-65536",
	[DATABASE_OWN] = "",
};

/* An absolute or dotted path: SQLite takes names such as ":memory:" for its own. */
static char *plain_path(const char *path)
{
	char *out = malloc(strlen(path) + 3);

	if (out)
		sprintf(out, "%s%s", path[0] == '/' || path[0] == '.' ? "" : "./", path);
	return out;
}

struct database *database_open(const char *path, enum database_use use, struct fault *why)
{
	int rc = SQLITE_NOMEM;
	struct database *d = calloc(1, sizeof *d);

	if (!d || !(d->path = plain_path(path))) {
		fault_set(why, FAULT_RETRY, "%s: out of memory", path);
		goto fail;
	}
	if (use == DATABASE_READ)
		rc = open_for_reading(d);
	else
		rc = open_and_touch(d, use == DATABASE_OWN ? "" : d->path, SQLITE_OPEN_READWRITE);
	if (rc == SQLITE_OK && use == DATABASE_WRITE && sqlite3_db_readonly(d->db, "main"))
		rc = SQLITE_READONLY;
	if (rc == SQLITE_OK)
		rc = sqlite3_exec(d->db, manners[use], NULL, NULL, NULL);
	if (rc != SQLITE_OK) {
		database_fault(d, rc, why);
		goto fail;
	}
	return d;
fail:
	database_close(d);
	return NULL;
}

void database_close(struct database *d)
{
	if (!d)
		return;
	for (int i = 0; i < d->n_owned; i++)
		sqlite3_finalize(d->owned[i]);
	sqlite3_close(d->db);
	free(d->path);
	free(d);
}

int database_run(struct database *d, const char *sql, struct fault *why)
{
	int rc = sqlite3_exec(d->db, sql, NULL, NULL, NULL);

	return rc == SQLITE_OK ? 0 : database_fault(d, rc, why);
}

int database_shrink(struct database *d, struct fault *why)
{
	/* SQLite writes the new one into a database of its own, which it attaches. */
	sqlite3_limit(d->db, SQLITE_LIMIT_ATTACHED, 1);
	int result = database_run(d, "VACUUM", why);
	sqlite3_limit(d->db, SQLITE_LIMIT_ATTACHED, 0);
	return result;
}

/* The first row of a query made once; its statement is the caller's to finalize. */
static int first_row(struct database *d, const char *sql, sqlite3_stmt **q, struct fault *why)
{
	int rc = sqlite3_prepare_v2(d->db, sql, -1, q, NULL);

	if (rc == SQLITE_OK)
		rc = sqlite3_step(*q);
	if (rc == SQLITE_ROW)
		return 0;
	if (rc == SQLITE_DONE)
		rc = SQLITE_CORRUPT;    /* our queries always have a row */
	database_fault(d, rc, why);
	sqlite3_finalize(*q);
	return -1;
}

int database_number(struct database *d, const char *sql, int64_t *out, struct fault *why)
{
	sqlite3_stmt *q;

	if (first_row(d, sql, &q, why) < 0)
		return -1;
	*out = sqlite3_column_int64(q, 0);
	sqlite3_finalize(q);
	return 0;
}

int database_word(struct database *d, const char *sql, char *out, size_t size, struct fault *why)
{
	sqlite3_stmt *q;

	if (first_row(d, sql, &q, why) < 0)
		return -1;
	snprintf(out, size, "%s", statement_text((struct statement *)q, 0));
	sqlite3_finalize(q);
	return 0;
}

bool database_in_transaction(const struct database *d)
{
	return !sqlite3_get_autocommit(d->db);
}

int64_t database_last_id(const struct database *d)
{
	return sqlite3_last_insert_rowid(d->db);
}

int database_changes(const struct database *d)
{
	return sqlite3_changes(d->db);
}

struct statement *database_prepare(struct database *d, const char *sql, struct fault *why)
{
	sqlite3_stmt **q = &d->owned[d->n_owned];

	assert(d->n_owned < STATEMENTS);
	int rc = sqlite3_prepare_v3(d->db, sql, -1, SQLITE_PREPARE_PERSISTENT, q, NULL);
	if (rc != SQLITE_OK) {
		database_fault(d, rc, why);
		return NULL;
	}
	d->n_owned++;
	return (struct statement *)*q;
}
