#include "tests/survey_place.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <sqlite3.h>

#include "tests/fault_check.h"

int make_place(void **state)
{
	struct place *p = calloc(1, sizeof *p);

	assert_non_null(p);
	strcpy(p->folder, "/tmp/test_survey.XXXXXX");
	assert_non_null(mkdtemp(p->folder));
	snprintf(p->path, sizeof p->path, "%s/night.survey", p->folder);
	*state = p;
	return 0;
}

void empty_place(const struct place *p)
{
	char path[WORLD_ROOM + 256];
	DIR *d = opendir(p->folder);
	struct dirent *e;

	assert_non_null(d);
	while ((e = readdir(d))) {
		snprintf(path, sizeof path, "%s/%s", p->folder, e->d_name);
		if (e->d_name[0] != '.')
			unlink(path);
	}
	closedir(d);
}

int remove_place(void **state)
{
	struct place *p = *state;

	empty_place(p);
	rmdir(p->folder);
	free(p);
	return 0;
}

int files_in(const struct place *p)
{
	DIR *d = opendir(p->folder);
	struct dirent *e;
	int n = 0;

	assert_non_null(d);
	while ((e = readdir(d)))
		n += e->d_name[0] != '.';
	closedir(d);
	return n;
}

void put_file(const char *path, const void *bytes, size_t n)
{
	FILE *f = fopen(path, "w");

	assert_non_null(f);
	assert_int_equal(fwrite(bytes, 1, n, f), n);
	assert_int_equal(fclose(f), 0);
}

char *get_file(const char *path, size_t *n)
{
	FILE *f = fopen(path, "r");
	char *bytes = malloc(1 << 22);

	assert_non_null(f);
	assert_non_null(bytes);
	*n = fread(bytes, 1, 1 << 22, f);
	fclose(f);
	return bytes;
}

void ask(const char *path, const char *sql, char out[64])
{
	sqlite3 *db;
	sqlite3_stmt *q;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_prepare_v2(db, sql, -1, &q, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	out[0] = '\0';
	if (sqlite3_step(q) == SQLITE_ROW)
		snprintf(out, 64, "%s", (const char *)sqlite3_column_text(q, 0));
	sqlite3_finalize(q);
	sqlite3_close(db);
}

struct survey *must_write(const char *path, struct run_row *run)
{
	struct fault why = { 0 };
	struct survey *s = survey_write(path, run, world_bands, WORLD_BANDS, &why);

	if (!s)
		fail_msg("survey_write: %s", why.text);
	return s;
}

struct survey *must_read(const char *path)
{
	struct fault why = { 0 };
	struct survey *s = survey_read(path, &why);

	if (!s)
		fail_msg("survey_read: %s", why.text);
	return s;
}

void write_survey(const char *path, int n)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct survey *s = must_write(path, &run);

	for (int i = 0; i < n; i++) {
		struct world_rows rows = world_rows(run.id, i);
		if (world_write(s, &rows, &why) < 0)
			fail_msg("%s", why.text);
	}
	survey_close(s);
}

struct world_seen see_all(const char *path)
{
	struct fault why = { 0 };
	struct world_seen seen;
	struct survey *s = must_read(path);

	if (world_see(s, &seen, &why) < 0)
		fail_msg("%s", why.text);
	survey_close(s);
	return seen;
}

void expect_refusal(struct survey *s, const struct fault *why, enum fault_kind kind,
		    const char *says, const char *reason)
{
	if (s)
		fail_msg("%s: was not refused", reason);
	if (why->kind != kind || !strstr(why->text, says) || !is_one_line(why->text))
		fail_msg("%s: said (%d) \"%s\", not \"%s\"", reason, why->kind, why->text, says);
}
