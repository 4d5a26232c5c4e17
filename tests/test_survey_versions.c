/* Surveys of every version there was: made from the schema's own statements, read by what is
 * newest, and brought up by the next writer, wherever it fails. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

#include "store/rescue.h"
#include "store/schema.h"
#include "tests/failing_vfs.h"
#include "tests/fault_check.h"
#include "tests/survey_place.h"

/* A row of each table of the first version, in its own words. */
static const char first_rows[] =
	"INSERT INTO run VALUES(1, 1, 2, 'roof', 'dongle', '0.0.1', 2400000, 297, 33000, 20000, "
	"1000000, 3000);"
	"INSERT INTO coverage VALUES(0, 0, 200, 21600000000, 1, 100, 90, 3000000, 2, -61400);"
	"INSERT INTO activity VALUES(0, 7, 21600000000, 1, 5, 100000, 1, 4, 0, 0, x'0a0105');"
	"INSERT INTO transmission VALUES(1, 1, 0, 7, 21600000000, 21600800000, 1, 2, 780000, 26, "
	"184, 251, -614,"
	" -120, 9800, 'am', 930, 0);"
	"INSERT INTO incident VALUES(1, 1, 21600000000, 0, 'lost', 'it went');"
	"INSERT INTO artefact VALUES(1, 1, 21600000000, 0, 9, 'birdie', 'stays');";

static void put_band(sqlite3 *db, int i)
{
	const struct band *b = &world_bands[i];
	char *sql = sqlite3_mprintf(
		"INSERT INTO band VALUES(%d, %Q, %Q, %Q, %lld, %lld, %d, %Q, %d)", i, b->id,
		b->name, b->service, (long long)b->raster.first.thirds,
		(long long)b->raster.step.thirds, b->raster.count, mode_name(b->mode), b->width_hz);

	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_free(sql);
}

/* As the program of that version left it: rows of the first, then one change after the other. */
static void make_version(const char *path, int version)
{
	char sql[96];
	sqlite3 *db;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	for (const struct migration *m = survey_migrations; m->version && m->version <= version;
	     m++) {
		assert_int_equal(sqlite3_exec(db, m->sql, NULL, NULL, NULL), SQLITE_OK);
		if (m->version == 1) {
			for (int i = 0; i < WORLD_BANDS; i++)
				put_band(db, i);
			if (sqlite3_exec(db, first_rows, NULL, NULL, NULL) != SQLITE_OK)
				fail_msg("%s", sqlite3_errmsg(db));
		}
	}
	snprintf(sql, sizeof sql, "PRAGMA application_id=%d; PRAGMA user_version=%d",
		 SURVEY_APPLICATION_ID, version);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
}

static void ignore(void *self, const char *line)
{
	(void)self;
	(void)line;
}

/* What came later reads as not known. */
static void check_rows(const char *path, int version, int runs, const char *when)
{
	struct world_seen w = see_all(path);

	if (w.n_run != runs || w.n_coverage != 1 || w.n_activity != 1 || w.n_transmission != 1 ||
	    w.n_incident != 1 || w.n_artefact != 1 || w.n_setting + w.n_parked + w.n_strip != 0)
		fail_msg("version %d, %s: %d runs, %d overs", version, when, w.n_run,
			 w.n_transmission);
	assert_int_equal(w.coverage[0].looks, 100);
	assert_int_equal(w.coverage[0].floor_low_ddb, 0);
	assert_int_equal(w.coverage[0].floor_ddb_sum, -61400);
	assert_int_equal(w.activity[0].level[10], 1);
	assert_int_equal(w.activity[0].level_looks[10], 5);
	assert_int_equal(w.transmission[0].kind, KIND_AM);
	assert_int_equal(w.transmission[0].below, BELOW_UNKNOWN);
	assert_int_equal(w.transmission[0].heard_ms, 0);
	assert_int_equal(w.transmission[0].code, 0);

	struct survey *s = must_read(path);
	const struct band *bands;
	assert_int_equal(survey_bands(s, &bands), WORLD_BANDS);
	assert_int_equal(bands[1].width_hz, world_bands[1].width_hz);
	assert_int_equal(bands[1].split[0].thirds, 0);
	survey_close(s);
}

static void every_version_is_read_and_brought_up(void **state)
{
	const struct place *p = *state;
	char out[64];

	for (int version = 1; version <= survey_newest_version(); version++) {
		struct run_row run = world_run();
		struct fault why = { 0 };
		size_t n, m;
		empty_place(p);
		make_version(p->path, version);
		char *before = get_file(p->path, &n);
		check_rows(p->path, version, 1, "read");
		char *after = get_file(p->path, &m);
		assert_int_equal(n, m);
		assert_memory_equal(before, after, n);
		free(before);
		free(after);
		char left[WORLD_ROOM + 8];
		struct rescue_sum sum;
		snprintf(left, sizeof left, "%s.left", p->path);
		if (survey_rescue(p->path, left, ignore, NULL, &sum, &why) < 0 || !sum.whole)
			fail_msg("version %d: %s, %d pages lost", version, why.text,
				 (int)sum.pages_lost);
		check_rows(left, version, 1, "rescued");
		struct survey *s = must_write(p->path, &run);
		assert_int_equal(run.id, 2);
		survey_close(s);
		check_rows(p->path, version, 2, "brought up");
		ask(p->path, "PRAGMA user_version", out);
		assert_int_equal(atoi(out), survey_newest_version());
		s = must_write(p->path, &run);
		struct world_rows rows = world_rows(run.id, 0);
		assert_int_equal(world_write(s, &rows, &why), 0);
		survey_close(s);
		assert_int_equal(see_all(p->path).n_strip, 1);
	}
}

/* One step: it is of the old version or of the new one, and all its rows are there. */
static void bringing_up_may_fail_anywhere(void **state)
{
	const struct place *p = *state;
	char out[64];
	int failed, n = 0, old = 0;

	do {
		struct failing_disk disk = { .fail_at = ++n,
					     .stay = true,
					     .code = 13 /* SQLITE_FULL */ };
		struct run_row run = world_run();
		struct fault why = { 0 };
		empty_place(p);
		make_version(p->path, 1);
		assert_int_equal(failing_disk_install(&disk), 0);
		struct survey *s = survey_write(p->path, &run, world_bands, WORLD_BANDS, &why);
		survey_close(s);
		failing_disk_remove(&disk);
		failed = disk.failed;
		ask(p->path, "PRAGMA integrity_check", out);
		assert_string_equal(out, "ok");
		ask(p->path, "PRAGMA user_version", out);
		int version = atoi(out);
		if (version != 1 && version != survey_newest_version())
			fail_msg("call %d: is of version %d", n, version);
		old += version == 1;
		check_rows(p->path, version, see_all(p->path).n_run, "cut off");
		s = must_write(p->path, &run);
		survey_close(s);
	} while (failed);
	print_message("%d calls, after %d of them it is of version 1 still\n", n, old);
	assert_true(n > 40 && old > 10 && old < n);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(every_version_is_read_and_brought_up), TEST(bringing_up_may_fail_anywhere),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
