/* store/survey-file.md tells a stranger what a survey holds: its tables are ours, what it says adds
 * up does, and its questions have the answers they should. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

#include "store/schema.h"
#include "store/setting_files.h"
#include "tests/outing.h"

#define DOCUMENT SOURCE_ROOT "/store/survey-file.md"
#define TEXT     4096

static char *document(void)
{
	size_t n;
	char *bytes = get_file(DOCUMENT, &n), *text = strndup(bytes, n);

	free(bytes);
	return text;
}

static sqlite3 *must_open(const char *path)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	return db;
}

/* The answer as text: columns with | between, rows with a line each. Their number. */
static int answer(sqlite3 *db, const char *sql, char out[TEXT])
{
	sqlite3_stmt *q;
	size_t n = 0;
	int rows = 0;

	out[0] = '\0';
	if (sqlite3_prepare_v2(db, sql, -1, &q, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	for (; sqlite3_step(q) == SQLITE_ROW; rows++)
		for (int i = 0; i < sqlite3_column_count(q) && n < TEXT - 100; i++) {
			const unsigned char *text = sqlite3_column_text(q, i);
			n += (size_t)snprintf(out + n, TEXT - n, "%s%s", i ? "|" : rows ? "\n" : "",
					      text ? (const char *)text : "");
		}
	sqlite3_finalize(q);
	return rows;
}

/* The next block of SQL from *at on, in a buffer of its own; NULL: there is none. */
static char *next_sql(const char **at, bool *nothing)
{
	static const char head[] = "```sql";
	const char *begin = strstr(*at, head);

	if (!begin)
		return NULL;
	*nothing = strncmp(begin + strlen(head), " nothing\n", 9) == 0;
	begin = strchr(begin, '\n') + 1;
	const char *end = strstr(begin, "```");
	assert_non_null(end);
	*at = end + 3;
	return strndup(begin, (size_t)(end - begin));
}

/* ---- its tables ---- */

/* The columns that the document lists below "### table", each with a line break. */
static void listed_columns(const char *text, const char *table, char out[TEXT])
{
	char head[64], column[64];
	const char *at, *end;

	snprintf(head, sizeof head, "\n### %s\n", table);
	at = strstr(text, head);
	if (!at)
		fail_msg("%s is not in the document", table);
	at += strlen(head);
	end = strstr(at, "\n##");
	out[0] = '\0';
	for (at = strstr(at, "|---|---|\n") + 10; *at == '|' && (!end || at < end);
	     at = strchr(at, '\n') + 1) {
		assert_int_equal(sscanf(at, "| %60[a-z_0-9] |", column), 1);
		strcat(strcat(out, column), "\n");
	}
}

static void its_tables_are_ours(void **state)
{
	const struct place *p = *state;
	char tables[TEXT], columns[TEXT], listed[TEXT], sql[160], says[64], *text = document();

	write_survey(p->path, 1);
	sqlite3 *db = must_open(p->path);
	answer(db, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'", tables);
	for (char *save, *table = strtok_r(tables, "\n", &save); table; table = strtok_r(NULL, "\n", &save)) {
		snprintf(sql, sizeof sql, "SELECT name FROM pragma_table_info('%s')", table);
		int n = answer(db, sql, columns), there = 0;
		listed_columns(text, table, listed);
		for (const char *c = listed; *c; c = strchr(c, '\n') + 1)
			there++;
		for (char *more, *c = strtok_r(columns, "\n", &more); c; c = strtok_r(NULL, "\n", &more)) {
			snprintf(sql, sizeof sql, "%s\n", c);
			const char *at = strstr(listed, sql);
			if (!at || (at != listed && at[-1] != '\n'))
				fail_msg("%s.%s is not in the document", table, c);
		}
		if (there != n)
			fail_msg("%s: %d columns, the document lists %d", table, n, there);
	}
	snprintf(says, sizeof says, "of what follows: %d.", survey_newest_version());
	assert_non_null(strstr(text, says));
	sqlite3_close(db);
	free(text);
}

/* ---- what adds up ---- */

static int check_sums(const char *path)
{
	char *text = document(), got[TEXT];
	const char *at = text;
	sqlite3 *db = must_open(path);
	bool nothing;
	int n = 0;

	for (char *sql; (sql = next_sql(&at, &nothing)); free(sql))
		if (nothing) {
			n++;
			if (answer(db, sql, got) != 0)
				fail_msg("%s: %s", sql, got);
		}
	sqlite3_close(db);
	free(text);
	return n;
}

/* A survey that a watch kept; and any other, such as a whole night's. */
static void what_adds_up(void **state)
{
	const struct place *p = *state;
	static const struct script trouble = { TROUBLE_CLOCK, 7, NEVER_S, 3600, 0 };
	const char *other = getenv("BANDCENSUS_SURVEY");
	struct outing o = go(p, &trouble, DAY_US + 593 * INT64_C(1000000), FOR_S);

	assert_int_equal(o.result, 0);
	assert_int_equal(check_sums(p->path), 7);
	free(o.fake);
	if (other)
		check_sums(other);
}

static const struct {
	const char *damage;
} damages[] = {
	{ "UPDATE activity SET held = held + 1" },
	{ "UPDATE activity SET blind_looks = 1000000" },
	{ "UPDATE coverage SET pairs = looks + 1" },
	{ "UPDATE coverage SET floor_low_ddb = -1" },
	{ "UPDATE coverage SET hour = hour + 1" },
	{ "UPDATE coverage SET more_hours = 5" },
	{ "UPDATE strip SET start_us = start_us + 1" },
	{ "UPDATE transmission SET busy_us = 1 + last_us - first_us" },
	{ "INSERT INTO coverage SELECT band, first + 1, count, hour, run, looks, pairs, looked_us, clipped,"
	  " floor_ddb_sum, floor_low_ddb, floor_high_ddb, more_hours FROM coverage" },
};

static int count_broken(const char *path)
{
	char *text = document(), got[TEXT];
	const char *at = text;
	sqlite3 *db = must_open(path);
	bool nothing;
	int broken = 0;

	for (char *sql; (sql = next_sql(&at, &nothing)); free(sql))
		broken += nothing && answer(db, sql, got) != 0;
	sqlite3_close(db);
	free(text);
	return broken;
}

static void what_does_not_is_found(void **state)
{
	const struct place *p = *state;
	static const struct script nothing = { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 0 };
	char out[64];

	for (size_t i = 0; i < sizeof damages / sizeof damages[0]; i++) {
		struct outing o = go(p, &nothing, DAY_US + 593 * INT64_C(1000000), FOR_S);
		free(o.fake);
		ask(p->path, damages[i].damage, out);
		if (count_broken(p->path) == 0)
			fail_msg("%s: not found", damages[i].damage);
	}
}

/* ---- questions ---- */

/* Ten minutes of looks at "works", of which channel 3 was on for one, blind for a half. */
static void write_known(const char *path)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	const char *const files[] = { SOURCE_ROOT "/config/harlow-ferry-night.conf", NULL, "" };
	struct survey *s = must_write(path, &run);
	struct coverage_row c = { .run = run.id, .hour = 6 * HOUR_US, .band = 1, .count = 40, .looks = 30000,
		.pairs = 29000, .looked_us = 600000000, .floor_ddb_sum = -18000000 };
	struct activity_row a = { .run = run.id, .hour = 6 * HOUR_US, .band = 1, .channel = 3,
		.busy_looks = 3000, .busy_us = 57000000, .openings = 12, .held = 2988, .blind_looks = 1500,
		.blind_us = 30000000 };
	struct transmission_row t = { .run = run.id, .band = 1, .channel = 3, .looks = 9, .kind = KIND_NFM,
		.first_us = 6 * HOUR_US + 4000000, .last_us = 6 * HOUR_US + 7500000, .before_us = 500000,
		.after_us = 1000000, .busy_us = 180000, .level_ddb = 213, .tone_ddhz = 1035 };
	struct incident_row i = { run.id, 6 * HOUR_US, 6 * HOUR_US + 2500000, "lost", "its cable?" };

	assert_int_equal(survey_begin(s, &why), 0);
	assert_int_equal(survey_add_coverage(s, &c, &why), 0);
	assert_int_equal(survey_add_activity(s, &a, &why), 0);
	assert_int_equal(survey_add_transmission(s, &t, &why), 0);
	t.first_us += 60000000;
	t.last_us += 60000000;
	t.after_us = -1;
	assert_int_equal(survey_add_transmission(s, &t, &why), 0);
	t.channel = 4;
	t.tone_ddhz = 0;
	t.code = 023;
	assert_int_equal(survey_add_transmission(s, &t, &why), 0);
	assert_int_equal(survey_add_incident(s, &i, &why), 0);
	assert_int_equal(survey_commit(s, &why), 0);
	assert_int_equal(setting_files_keep(s, run.id, files, 3, &why), 0);
	survey_close(s);
}

static void its_questions_have_answers(void **state)
{
	const struct place *p = *state;
	/* By hand: 57 s of 600 - 30 s are 10 %; 155 MHz + 1/3 Hz + 3 x 7.5 kHz. */
	static const char *const want[] = {
		"works|155.022500333333|0.166666666666667|10.0",
		"1970-01-01 06:00:04|3.5|5.0|21.3|nfm\n1970-01-01 06:01:04|3.5||21.3|nfm",
		"works|06|600.0|12",
		"works|155.022500333333|103.5||2\nworks|155.030000333333||023|1",
		"1970-01-01 06:00:00|2.5|lost|its cable?",
	};
	char *text = document(), got[TEXT];
	const char *at = text;
	bool nothing;
	size_t n = 0;

	write_known(p->path);
	sqlite3 *db = must_open(p->path);
	for (char *sql; (sql = next_sql(&at, &nothing)); free(sql)) {
		if (nothing)
			continue;
		assert_true(n < sizeof want / sizeof want[0]);
		answer(db, sql, got);
		if (strcmp(got, want[n]) != 0)
			fail_msg("question %zu: %s, want %s", n + 1, got, want[n]);
		n++;
	}
	assert_int_equal(n, sizeof want / sizeof want[0]);
	answer(db, "SELECT count(*), text LIKE '# A night in the invented town%' FROM setting", got);
	assert_string_equal(got, "1|1");
	sqlite3_close(db);
	free(text);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(its_tables_are_ours), TEST(what_adds_up), TEST(what_does_not_is_found),
		TEST(its_questions_have_answers),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
