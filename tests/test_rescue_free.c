/* Pages that a survey has given up, after thinning, still hold what was on them: it is not to come back. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

#include "tests/rescue_world.h"

/* As a library does that does not overwrite what is dropped: Debian's does, others do not. */
static void drop_rows(const char *path, const char *sql)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	if (sqlite3_exec(db, "PRAGMA secure_delete=OFF", NULL, NULL, NULL) != SQLITE_OK ||
	    sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	sqlite3_close(db);
}

static uint32_t big4(const char *at)
{
	const unsigned char *a = (const unsigned char *)at;

	return (uint32_t)a[0] << 24 | (uint32_t)a[1] << 16 | (uint32_t)a[2] << 8 | a[3];
}

static void what_was_dropped_stays_so(void **state)
{
	struct rescue_world *w = *state;
	struct rescue_sum sum;
	char path[WORLD_ROOM + 16];
	size_t n;

	snprintf(path, sizeof path, "%s/bad.survey", w->place.folder);
	put_file(path, w->bytes, w->n);
	int dropped = (int)rescue_number(path, "SELECT count(*) FROM transmission WHERE id > 20");
	drop_rows(path, "DELETE FROM transmission WHERE id > 20");
	int given_up = (int)rescue_number(path, "PRAGMA freelist_count");
	assert_true(dropped > 100 && given_up > 3);
	char *bytes = get_file(path, &n);
	assert_int_equal(n, w->n);
	print_message("%d rows dropped, %d pages given up\n", dropped, given_up);
	assert_int_equal(rescue_of(w, bytes, n, "given up", &sum), w->rows.n - dropped);
	assert_true(sum.whole && sum.pages_lost == 0);

	/* One that is given up may be damaged: nothing is lost by it. SQLite's "Database File Format",
	 * 1.5: at 32 of the file is the first page of the list, which has the numbers of others from 8 on. */
	size_t leaf = big4(bytes + (big4(bytes + 32) - 1) * PAGE + 8) - 1;
	memset(bytes + leaf * PAGE, 0x5a, PAGE);
	assert_int_equal(rescue_of(w, bytes, n, "given up and damaged", &sum), w->rows.n - dropped);
	assert_true(sum.whole && sum.pages_lost == 0);

	/* Without the list nobody knows; what is there is whole, and was true once. */
	memset(bytes + 32, 0, 8);
	assert_in_range(rescue_of(w, bytes, n, "given up, and its list lost", &sum), w->rows.n - dropped, w->rows.n);
	free(bytes);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_was_dropped_stays_so),
	};

	return cmocka_run_group_tests(tests, rescue_set_up, rescue_tear_down);
}
