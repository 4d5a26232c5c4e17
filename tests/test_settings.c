#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/settings.h"

#define ROOM 256

/* ---- a table with one field of every type ---- */

enum colour { RED, GREEN };

struct row {
	char         id[8];
	struct freq  at;
	struct texts tags;
};

struct all {
	char         kind[8], word[8];
	bool         flag;
	int32_t      count, any;
	double       gain, plain;
	int64_t      hang;
	struct freq  centre;
	int          colour;
	struct texts names;
	struct freqs spots;
	struct rows  rows;
	double       level;
	int64_t      age;
	struct texts tints;
};

#define AT(of, member) .at = offsetof(struct of, member), .size = sizeof ((struct of *)0)->member

static const char *const kinds[] = { "test", NULL };
static const char *const colours[] = { "red", "green", NULL };

static const struct field row_fields[] = {
	{ .name = "id", .type = FIELD_TEXT, AT(row, id) },
	{ .name = "at", .type = FIELD_FREQ, AT(row, at), .preset = "118.0 MHz" },
	{ .name = "tags", .type = FIELD_TEXTS, AT(row, tags), .preset = "" },
	{ 0 }
};

static const struct field fields[] = {
	{ .name = "kind", .type = FIELD_TEXT, AT(all, kind), .choices = kinds, .preset = "test" },
	{ .name = "word", .type = FIELD_TEXT, AT(all, word), .preset = "preset" },
	{ .name = "flag", .type = FIELD_BOOL, AT(all, flag), .preset = "true" },
	{ .name = "count", .type = FIELD_INT, AT(all, count), .min = 1, .max = 10, .preset = "3" },
	{ .name = "any", .type = FIELD_INT, AT(all, any), .preset = "0" },
	{ .name = "gain", .type = FIELD_NUMBER, AT(all, gain), .min = -10, .max = 60, .unit = "dB",
	  .preset = "29.7 dB" },
	{ .name = "plain", .type = FIELD_NUMBER, AT(all, plain), .min = 0, .max = 1, .unit = "",
	  .preset = "1e-6" },
	{ .name = "hang", .type = FIELD_DURATION, AT(all, hang), .min = 0, .max = 60,
	  .preset = "500 ms" },
	{ .name = "centre", .type = FIELD_FREQ, AT(all, centre), .min = 24e6, .max = 1766e6,
	  .preset = "154.235 MHz" },
	{ .name = "colour", .type = FIELD_CHOICE, AT(all, colour), .choices = colours,
	  .preset = "green" },
	{ .name = "names", .type = FIELD_TEXTS, AT(all, names), .preset = "one, two" },
	{ .name = "spots", .type = FIELD_FREQS, AT(all, spots), .min = 1, .max = 1e9, .preset = "" },
	{ .name = "rows", .type = FIELD_ROWS, .at = offsetof(struct all, rows),
	  .size = sizeof(struct row), .rows_of = row_fields, .preset = "" },
	{ .name = "age", .type = FIELD_DURATION, AT(all, age), .min = 0, .max = 400 * 86400.0, .preset = "30 d" },
	{ .name = "tints", .type = FIELD_TEXTS, AT(all, tints), .choices = colours, .preset = "" },
	{ 0 }
};

static const struct field needy[] = {
	{ .name = "word", .type = FIELD_TEXT, AT(all, word) },
	{ .name = "hang", .type = FIELD_DURATION, AT(all, hang) },
	{ .name = "level", .type = FIELD_NUMBER, AT(all, level), .min = -150, .max = 10, .unit = "dBm" },
	{ 0 }
};

/* ---- places ---- */

static int make_place(void **state)
{
	char *folder = strdup("/tmp/test_settings.XXXXXX");

	assert_non_null(folder);
	assert_non_null(mkdtemp(folder));
	*state = folder;
	return 0;
}

static const char *put(const char *folder, const char *name, const char *text, char path[ROOM])
{
	snprintf(path, ROOM, "%s/%s", folder, name);
	FILE *f = fopen(path, "w");
	assert_non_null(f);
	fputs(text, f);
	assert_int_equal(fclose(f), 0);
	return path;
}

static int remove_place(void **state)
{
	static const char *const names[] = { "a.conf", "b.conf", "c.conf" };
	char path[ROOM];

	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		snprintf(path, sizeof path, "%s/%s", (char *)*state, names[i]);
		unlink(path);
	}
	rmdir(*state);
	free(*state);
	return 0;
}

/* ---- what is taken ---- */

static void presets_alone(void **state)
{
	struct fault why = { 0 };
	struct all a;
	(void)state;

	memset(&a, 0x5a, sizeof a);     /* as it comes from a stack */
	if (settings_read(NULL, fields, &a, &why) < 0)
		fail_msg("%s", why.text);
	assert_string_equal(a.word, "preset");
	assert_true(a.flag);
	assert_int_equal(a.count, 3);
	assert_float_equal(a.gain, 29.7, 0);
	assert_float_equal(a.plain, 1e-6, 0);
	assert_int_equal(a.hang, 500000);
	assert_int_equal(a.centre.thirds, 3 * INT64_C(154235000));
	assert_int_equal(a.colour, GREEN);
	assert_int_equal(a.names.n, 2);
	assert_string_equal(a.names.at[0], "one");
	assert_string_equal(a.names.at[1], "two");
	assert_int_equal(a.spots.n, 0);
	assert_int_equal(a.rows.n, 0);
	settings_free(fields, &a);
	assert_null(a.names.at);
	settings_free(fields, &a);      /* twice is harmless */
}

static void every_type(void **state)
{
	static const char text[] =
		"kind = \"test\";\n"
		"word = \"seven77\"; flag = false; count = 10; any = -2147483648;\n"
		"gain = \"-10 dB\"; plain = 1; hang = \"1.5 s\"; centre = \"363925000/3 Hz\";\n"
		"colour = \"Red\";\n"
		"names = [ \"a\", \"\" ];\n"
		"spots = ( \"25/3 kHz\", \"118.0 MHz\" );\n"
		"rows = (\n"
		"  { id = \"x\"; tags = ( \"t1\", \"t2\" ); },\n"
		"  { id = \"y\"; at = \"1 GHz\"; }\n"
		");\n";
	struct fault why = { 0 };
	struct all a;
	char path[ROOM];

	if (settings_read(put(*state, "a.conf", text, path), fields, &a, &why) < 0)
		fail_msg("%s", why.text);
	assert_string_equal(a.word, "seven77");
	assert_false(a.flag);
	assert_int_equal(a.count, 10);
	assert_int_equal(a.any, INT32_MIN);
	assert_float_equal(a.gain, -10, 0);
	assert_float_equal(a.plain, 1, 0);
	assert_int_equal(a.hang, 1500000);
	assert_int_equal(a.centre.thirds, INT64_C(363925000));
	assert_int_equal(a.colour, RED);
	assert_int_equal(a.names.n, 2);
	assert_string_equal(a.names.at[1], "");
	assert_int_equal(a.spots.n, 2);
	assert_int_equal(a.spots.at[0].thirds, 25000);
	assert_int_equal(a.rows.n, 2);
	const struct row *rows = a.rows.at;
	assert_string_equal(rows[0].id, "x");
	assert_int_equal(rows[0].at.thirds, 3 * INT64_C(118000000));
	assert_int_equal(rows[0].tags.n, 2);
	assert_string_equal(rows[0].tags.at[1], "t2");
	assert_int_equal(rows[1].at.thirds, 3 * INT64_C(1000000000));
	assert_int_equal(a.rows.line[0], 8);
	assert_int_equal(a.rows.line[1], 9);
	assert_string_equal(a.rows.file[1], path);
	settings_free(fields, &a);
}

static void durations(void **state)
{
	static const struct { const char *text; int64_t us; } cases[] = {
		{ "0 s", 0 }, { "20 ms", 20000 }, { "20ms", 20000 }, { "1.5 s", 1500000 },
		{ "250 us", 250 }, { "2 min", 120000000 }, { "12 h", INT64_C(43200000000) },
		{ "0.1 us", 0 }, { "  3 s", 3000000 }, { "1e3 ms", 1000000 }, { ".5 s", 500000 },
		{ "", -1 }, { "s", -1 }, { "5", -1 }, { "5 S", -1 }, { "-1 s", -1 }, { "5 s ", -1 },
		{ "nan s", -1 }, { "inf s", -1 }, { "0x10 s", -1 }, { "1e300 h", -1 }, { "1e999 s", -1 },
		{ "5 sec", -1 }, { "+-5 s", -1 }, { "1,5 s", -1 },
	};
	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		int64_t us = -1;
		int result = duration_parse(cases[i].text, &us);
		if (us != cases[i].us || (result < 0) != (cases[i].us < 0))
			fail_msg("\"%s\": got %lld us", cases[i].text, (long long)us);
	}
}

/* ---- what is refused, and in which words ---- */

static const struct {
	const char *text;
	int         line;       /* 0: none is told */
	const char *says;
} refusals[] = {
	{ "\nhang = \"90 s\";", 2, "hang is 90 s, must be 0 to 60 s" },
	{ "hang = 5;", 1, "hang is 5, must be a time with its unit, such as \"20 ms\" (us, ms, s, min, h or d)" },
	{ "age = \"401 d\";", 1, "age is 401 d, must be 0 to 400 d" },
	{ "tints = \"red\";", 1, "tints is red, must be a list in brackets, such as [ \"red\" ], of red or green" },
	{ "tints = [ \"blue\" ];", 1, "tints is blue, must be red or green" },
	{ "hang = \"5\";", 1, "hang is 5, must be a time with its unit" },
	{ "hang = true;", 1, "hang is true, must be a time" },
	{ "hang = { };", 1, "hang is a group, must be a time" },
	{ "hang = \"5\\ns\\t\";", 1, "hang is 5 s , must be a time" },
	{ "gain = 29.7;", 1, "gain is 29.7, must be a number with its unit in quotes, such as \"29.7 dB\" (dB)" },
	{ "gain = \"20 dBm\";", 1, "gain is 20 dBm, must be a number with its unit" },
	{ "gain = \"70 dB\";", 1, "gain is 70 dB, must be -10 to 60 dB" },
	{ "gain = \"nan dB\";", 1, "must be a number" },
	{ "plain = 2;", 1, "plain is 2, must be 0 to 1" },
	{ "plain = \"1 dB\";", 1, "plain is 1 dB, must be a number" },
	{ "count = 0;", 1, "count is 0, must be 1 to 10" },
	{ "count = 1.5;", 1, "count is 1.5, must be a whole number" },
	{ "count = \"5\";", 1, "count is 5, must be a whole number" },
	{ "any = 4294967296L;", 1, "any is 4294967296, must be -2147483648 to 2147483647" },
	{ "centre = 118000000;", 1, "(Hz, kHz, MHz or GHz)" },
	{ "centre = \"118000000\";", 1, "(Hz, kHz, MHz or GHz)" },
	{ "centre = \"118.01 kHz\";", 1, "centre is 118.01 kHz, must be 24 to 1766 MHz" },
	{ "centre = \"118 XHz\";", 1, "centre is 118 XHz, must be a frequency" },
	{ "flag = 1;", 1, "flag is 1, must be true or false" },
	{ "flag = \"true\";", 1, "must be true or false" },
	{ "word = \"eight888\";", 1, "word is eight888, must be at most 7 bytes long" },
	{ "word = 8;", 1, "word is 8, must be text in quotes" },
	{ "word = \"\\x01\\x02\";", 0, NULL },          /* odd, but text */
	{ "colour = \"blue\";", 1, "colour is blue, must be red or green" },
	{ "kind = \"bands\";", 1, "kind is bands, must be test" },
	{ "names = \"a\";", 1, "names is a, must be a list of texts" },
	{ "names = [ 1 ];", 1, "names is 1, must be a list of texts" },
	{ "spots = [ \"5\" ];", 1, "must be a list of frequencies" },
	{ "spots = [ \"1 MHz\", \"2 GHz\" ];", 1, "spots is 2 GHz, must be 1e-06 to 1000 MHz" },
	{ "rows = ( 5 );", 1, "rows is 5, must be a list of groups" },
	{ "rows = { };", 1, "rows is a group, must be a list of groups" },
	{ "rows = (\n{ id = \"a\"; },\n{ at = \"1 MHz\"; } );", 3, "id is missing, must be text in quotes" },
	{ "rows = (\n{ id = \"a\";\n att = \"1 MHz\"; } );", 3, "att is unknown, did you mean at" },
	{ "\n\nhangg = \"1 s\";", 3, "hangg is unknown, did you mean hang" },
	{ "entirely_different = 1;", 1, "entirely_different is unknown, must be one of kind, word, flag" },
	{ "count = 1;\ncount = 2;", 2, "duplicate setting name" },
	{ "count = ;", 1, "syntax error" },
	{ "count = 1;\nword = \"a", 2, "syntax error" },
	{ "@include \"nowhere.conf\"\n", 0, "nowhere.conf: can't be read: No such file" },
	{ "@include \".\"\n", 0, "can't be read: is a folder" },
	{ "@include \"\"\n", 1, "@include must name a file in quotes" },
	{ "count = 1;\n@include \"\n\"\n", 2, "@include must name a file in quotes" },
	{ "@include \"..\\\"\n\"\n", 1, "@include must name a file in quotes" },
	{ "@include nothing\n", 1, "@include must name a file in quotes" },
	{ "@include \"a.conf\"\n", 1, "@include goes too deep" },
};

static void refused_in_words(void **state)
{
	char path[ROOM], start[ROOM + 16];

	for (size_t i = 0; i < sizeof refusals / sizeof refusals[0]; i++) {
		struct fault why = { 0 };
		struct all a;
		put(*state, "a.conf", refusals[i].text, path);
		int result = settings_read(path, fields, &a, &why);
		if (!refusals[i].says) {
			if (result < 0)
				fail_msg("%s: %s", refusals[i].text, why.text);
			settings_free(fields, &a);
			continue;
		}
		start[0] = '\0';
		if (refusals[i].line)
			snprintf(start, sizeof start, "%s:%d: ", path, refusals[i].line);
		if (result == 0 || why.kind != FAULT_INPUT || !strstr(why.text, refusals[i].says) ||
		    strncmp(why.text, start, strlen(start)) != 0)
			fail_msg("%s: said (%d) \"%s\", not \"%s\"", refusals[i].text, why.kind, why.text,
				 refusals[i].says);
		if (strpbrk(why.text, "\n\r\t") || why.text[strlen(why.text) - 1] == '.')
			fail_msg("%s: not one line: \"%s\"", refusals[i].text, why.text);
		assert_null(a.names.at);        /* freed again */
		assert_null(a.rows.at);
	}
}

/* A file from a stranger: what it says is printed in complaints, lists and pages. */
static void what_is_read_is_tame(void **state)
{
	struct fault why = { 0 };
	struct all a;
	char path[ROOM];

	put(*state, "a.conf", "word = \"\\x1b[2J\"; names = [ \"a\\x9bb\", \"\xc3\xa9\xe2\x80\xae\" ];", path);
	assert_int_equal(settings_read(path, fields, &a, &why), 0);
	assert_string_equal(a.word, "?[2J");
	assert_string_equal(a.names.at[0], "a?b");
	assert_string_equal(a.names.at[1], "\xc3\xa9?");
	settings_free(fields, &a);
	fault_set(&why, FAULT_INPUT, "%s: is \"%s\"", "x\r\n\x1b]0;y\x07.conf", "\xff");
	assert_string_equal(why.text, "x???]0;y?.conf: is \"?\"");
}

static void what_is_required(void **state)
{
	struct fault why = { 0 };
	struct all a;
	char path[ROOM], says[ROOM + 64];

	assert_int_equal(settings_read(put(*state, "a.conf", "word = \"x\";", path), needy, &a, &why), -1);
	snprintf(says, sizeof says, "%s: hang is missing, must be a time", path);
	if (strncmp(why.text, says, strlen(says)) != 0 || why.kind != FAULT_INPUT)
		fail_msg("said \"%s\"", why.text);
	assert_int_equal(settings_read(put(*state, "a.conf", "", path), needy, &a, NULL), -1);
	put(*state, "a.conf", "word = \"x\"; hang = \"1 s\"; level = \"5\";", path);
	assert_int_equal(settings_read(path, needy, &a, &why), -1);
	assert_non_null(strstr(why.text, "level is 5, must be a number with its unit in quotes, such as \"1 dBm\" (dBm)"));
}

static void included_files_have_their_own_lines(void **state)
{
	struct fault why = { 0 };
	struct all a;
	char path[ROOM], other[ROOM], says[ROOM + 64];

	put(*state, "b.conf", "count = 4;\n@include \"c.conf\"\n", other);
	put(*state, "c.conf", "rows = ( { id = \"a\"; } );\nhang = \"2 s\";\n", other);
	put(*state, "a.conf", "word = \"x\";\n@include \"b.conf\"\n", path);
	if (settings_read(path, fields, &a, &why) < 0)
		fail_msg("%s", why.text);
	assert_int_equal(a.count, 4);
	assert_int_equal(a.hang, 2000000);
	assert_string_equal(a.rows.file[0], other);
	assert_int_equal(a.rows.line[0], 1);
	settings_free(fields, &a);

	put(*state, "c.conf", "\nhang = \"99 s\";\n", other);
	assert_int_equal(settings_read(path, fields, &a, &why), -1);
	snprintf(says, sizeof says, "%s:2: hang is 99 s", other);
	if (strncmp(why.text, says, strlen(says)) != 0)
		fail_msg("said \"%s\"", why.text);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(presets_alone), TEST(every_type), TEST(durations), TEST(refused_in_words),
		TEST(what_is_read_is_tame), TEST(what_is_required), TEST(included_files_have_their_own_lines),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
