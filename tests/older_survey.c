/* A survey as the program of the schema's version before this would have left it, of one that this program wrote:
 * for tests of upgrades. What that version had no column for is left out.
 * usage: older_survey OLD NEW */
#include <stdio.h>

#include <sqlite3.h>

#include "store/schema.h"

/* Of all tables that both have, rows by the columns that the older one has. */
static const char copies[] =
	"SELECT format('INSERT INTO main.%s(%s) SELECT %s FROM new.%s;', t.name, c.names, c.names, t.name) "
	"FROM main.sqlite_schema t, (SELECT m.name AS of, group_concat(i.name) AS names "
	"FROM main.sqlite_schema m, pragma_table_info(m.name, 'main') i WHERE m.type = 'table' GROUP BY m.name) c "
	"WHERE t.name = c.of AND t.name IN (SELECT name FROM new.sqlite_schema WHERE type = 'table')";

static int run(void *db, int n, char **sql, char **names)
{
	(void)n;
	(void)names;
	return sqlite3_exec(db, sql[0], NULL, NULL, NULL);
}

static int make(sqlite3 *db, const char *of, int version)
{
	char *attach = sqlite3_mprintf("PRAGMA journal_mode=WAL; PRAGMA application_id=%d; PRAGMA user_version=%d; "
				       "ATTACH %Q AS new", SURVEY_APPLICATION_ID, version, of);
	int rc = SQLITE_OK;

	for (const struct migration *m = survey_migrations; rc == SQLITE_OK && m->version <= version; m++)
		rc = sqlite3_exec(db, m->sql, NULL, NULL, NULL);
	if (rc == SQLITE_OK)
		rc = sqlite3_exec(db, attach, NULL, NULL, NULL);
	if (rc == SQLITE_OK)
		rc = sqlite3_exec(db, copies, run, db, NULL);
	sqlite3_free(attach);
	return rc;
}

int main(int argc, char **argv)
{
	sqlite3 *db = NULL;
	int rc = argc == 3 ? sqlite3_open(argv[1], &db) : SQLITE_MISUSE;

	if (rc == SQLITE_OK)
		rc = make(db, argv[2], survey_newest_version() - 1);
	if (rc != SQLITE_OK)
		fprintf(stderr, "older_survey: %s\n", db ? sqlite3_errmsg(db) : "usage: older_survey OLD NEW");
	sqlite3_close(db);
	return rc != SQLITE_OK;
}
