/* Surveys that somebody else has had in hand: nothing in them is run, nothing is asked for without
 * bound, and what they say is fit for a terminal. */
#include "tests/test.h"

#include <stdio.h>
#include <string.h>

#include <sqlite3.h>

#include "store/text.h"
#include "tests/fault_check.h"
#include "tests/survey_place.h"

static void change(const char *path, const char *sql)
{
	sqlite3 *db;
	char *said = NULL;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	sqlite3_db_config(db, SQLITE_DBCONFIG_WRITABLE_SCHEMA, 1, NULL);
	if (sqlite3_exec(db, sql, NULL, NULL, &said) != SQLITE_OK)
		fail_msg("%s: %s", sql, said);
	sqlite3_close(db);
}

/* Both refuse, in one line, and the writer leaves the file as it is. */
static void refused_both_ways(const char *path, const char *says, const char *reason)
{
	struct fault why = { 0 };
	struct run_row run = world_run();
	char before[64], after[64];

	ask(path, "SELECT count(*) || sum(end_us) FROM run", before);
	expect_refusal(survey_read(path, &why), &why, FAULT_FATAL, says, reason);
	expect_refusal(survey_write(path, &run, world_bands, WORLD_BANDS, &why), &why, FAULT_FATAL,
		       says, reason);
	ask(path, "SELECT count(*) || sum(end_us) FROM run", after);
	assert_string_equal(before, after);
}

static void schemas_that_are_not_ours(void **state)
{
	static const struct { const char *why, *sql, *says;
	} cases[] = {
		{ "a trigger",
		  "CREATE TRIGGER a AFTER INSERT ON run BEGIN DELETE FROM coverage; END", "\"a\"" },
		{ "a view beside", "CREATE VIEW z AS SELECT randomblob(1e9)", "\"z\"" },
		{ "a view for a table",
		  "DROP TABLE artefact; CREATE VIEW artefact AS SELECT 1 AS id, 1 AS run, "
		  "0 AS at_us, 0 AS band, 0 AS channel, 'birdie' AS cause, '' AS text",
		  "artefact" },
		{ "a virtual table", "CREATE VIRTUAL TABLE words USING fts5(a)", "words" },
		{ "a table too many", "CREATE TABLE b(a)", "\"b\"" },
		{ "an index too few", "DROP INDEX transmission_order", "transmission_order" },
		{ "an index on an expression", "CREATE INDEX odd ON run(abs(start_us))", "odd" },
		{ "a column too many", "ALTER TABLE incident ADD COLUMN more INT", "incident" },
		{ "a column of another type",
		  "UPDATE sqlite_schema SET sql=replace(sql, 'looks INTEGER', "
		  "'looks REAL') WHERE name='coverage'",
		  "coverage" },
		{ "a column that runs something",
		  "ALTER TABLE run ADD COLUMN more TEXT AS (hex(station))", "\"run\"" },
		{ "a name that rings", "CREATE TABLE \"\x1b[2J\x07\"(a)", "\"?[2J?\"" },
	};
	const struct place *p = *state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		empty_place(p);
		write_survey(p->path, 2);
		change(p->path, cases[i].sql);
		refused_both_ways(p->path, cases[i].says, cases[i].why);
	}
}

/* Rows whose values SQLite was made to keep against the tables' own types. */
static void values_of_another_kind(void **state)
{
	static const struct { const char *why, *sql; } cases[] = {
		{ "nothing for a number", "UPDATE coverage SET looks=NULL" },
		{ "text for a number", "UPDATE transmission SET looks='many'" },
		{ "a blob for a number", "UPDATE incident SET at_us=x'00'" },
		{ "a number for text", "UPDATE incident SET text=7" },
		{ "text for a blob", "UPDATE strip SET packed='packed'" },
		{ "a fraction", "UPDATE run SET start_us=1.5" },
		{ "a time that is past all calendars", "UPDATE coverage SET hour=9223372036854775807" },
		{ "a time before there were any", "UPDATE incident SET at_us=-1" },
		{ "a length below nothing", "UPDATE activity SET busy_us=-1" },
		{ "more looks than anybody has", "UPDATE coverage SET looks=9000000000000000" },
		{ "an over that lasts an age", "UPDATE transmission SET last_us=253402300799000000" },
		{ "an over that ends before it begins", "UPDATE transmission SET first_us=last_us+1" },
		{ "more hours than a day has", "UPDATE parked SET more_hours=2147483647" },
		{ "a run before the first", "UPDATE artefact SET run=-1" },
		{ "a step as wide as the world", "UPDATE band SET step_thirds=9000000000000000" },
		{ "levels past all sums", "UPDATE activity SET level=x'00ffffffffffffffff7f01'" },
		{ "a blob past all bounds", "UPDATE strip SET packed=zeroblob(20000000)" },
	};
	const struct place *p = *state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		struct world_seen seen;
		empty_place(p);
		write_survey(p->path, 1);
		/* Without its types while it is changed, then as it was. */
		change(p->path, "CREATE TABLE keep AS SELECT name, sql FROM sqlite_schema;"
				"UPDATE sqlite_schema SET "
				"sql=replace(replace(replace(replace(replace(sql, 'STRICT,', ''),"
				" 'STRICT', ''), ' INTEGER NOT NULL', ''), ' TEXT NOT NULL', ''), "
				"' BLOB NOT NULL', '')"
				" WHERE name<>'keep'");
		change(p->path, cases[i].sql);
		change(p->path, "UPDATE sqlite_schema AS s SET sql=(SELECT k.sql FROM keep k WHERE"
		       " k.name=s.name) WHERE name<>'keep'");
		change(p->path, "DROP TABLE keep");
		struct survey *s = survey_read(p->path, &why);
		int result = s ? world_see(s, &seen, &why) : -1;
		survey_close(s);
		if (result == 0)
			fail_msg("%s: was read", cases[i].why);
		check_fault(cases[i].why, &why, FAULT_FATAL, "damaged");
	}
}

static void text_is_tame(void **state)
{
	static const struct { const char *why, *given, *told; } cases[] = {
		{ "plain", "roof 7", "roof 7" },
		{ "other scripts", "Zürich, 東京, 📻", "Zürich, 東京, 📻" },
		{ "a terminal's commands", "a\x1b[31mb\x7f\r\n\t", "a?[31mb????" },
		{ "commands of one byte, as UTF-8", "a\xc2\x9b" "b", "a?b" },
		{ "Latin-1", "caf\xe9", "caf?" },
		{ "cut off", "a\xe6\x9d", "a??" },
		{ "longer than need be", "\xc0\xaf\xe0\x80\xaf", "?????" },
		{ "half a surrogate", "\xed\xa0\x80", "?" },
		{ "past the last one", "\xf4\x90\x80\x80", "?" },
		{ "turned about", "a\xe2\x80\xae" "cba", "a?cba" },
		{ "a line of its own", "a\xe2\x80\xa8" "b", "a?b" },
		{ "unseen", "\xef\xbb\xbf" "a\xe2\x81\xa0", "?a?" },
		{ "empty", "", "" },
	};
	char text[64];

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		strcpy(text, cases[i].given);
		if (strcmp(text_tame(text), cases[i].told) != 0)
			fail_msg("%s: \"%s\"", cases[i].why, text);
	}
}

static void lines_are_tame(void **state)
{
	static const struct { const char *given, *told; } cases[] = {
		{ "a = 1;\n\tb = 2;\r\n", "a = 1;\n\tb = 2;\r\n" },
		{ "# \x1b]0;x\x07\n", "# ?]0;x?\n" },
		{ "over\rwritten", "over?written" }, { "\r", "?" }, { "\xff\n", "?\n" },
	};
	char text[64];

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
		assert_string_equal(text_tame_lines(strcpy(text, cases[i].given)), cases[i].told);
}

static int see_setting(void *self, const struct setting_row *row)
{
	snprintf(self, 200, "%s: %s", row->file, row->text);
	return 0;
}

static int see_text(void *self, const struct incident_row *row)
{
	strcpy(self, row->text);
	return 0;
}

static void what_is_read_is_tame(void **state)
{
	const struct place *p = *state;
	struct fault why = { 0 };
	struct run_row run = world_run();
	struct band odd[WORLD_BANDS];
	char text[200];

	memcpy(odd, world_bands, sizeof odd);
	strcpy(odd[0].name, "a\xe9\x1b[");
	struct survey *s = survey_write(p->path, &run, odd, WORLD_BANDS, &why);
	assert_non_null(s);
	struct world_rows rows = world_rows(run.id, 0);
	assert_int_equal(world_write(s, &rows, &why), 0);
	survey_close(s);
	change(p->path, "UPDATE incident SET text='a' || x'1b' || 'b' || x'00' || 'c'");
	s = survey_write(p->path, &run, odd, WORLD_BANDS, &why);        /* the same bands still */
	if (!s)
		fail_msg("%s", why.text);
	const struct band *bands;
	assert_int_equal(survey_bands(s, &bands), WORLD_BANDS);
	assert_string_equal(bands[0].name, "a??[");
	assert_int_equal(survey_each_incident(s, see_text, text, &why), 0);
	assert_string_equal(text, "a?b");
	change(p->path, "UPDATE setting SET file='a' || x'0a' || 'b', text='c' || x'1b0a' || 'd'");
	assert_int_equal(survey_each_setting(s, see_setting, text, &why), 0);
	assert_string_equal(text, "a?b: c?\nd");
	survey_close(s);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(schemas_that_are_not_ours), TEST(values_of_another_kind), TEST(text_is_tame), TEST(lines_are_tame),
		TEST(what_is_read_is_tame),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
