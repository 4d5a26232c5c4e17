/* Settings as files: what kind each is, what it includes, and where what it names lies. */
#include "tests/test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/settings.h"
#include "tests/folder.h"

#define ROOM 256

static const char *put(const struct folder *f, const char *name, const char *text, char path[ROOM])
{
	write_file(f, name, text, strlen(text));
	snprintf(path, ROOM, "%s/%s", f->path, name);
	return path;
}

static void kinds_of_files(void **state)
{
	static const struct { const char *why, *text, *kind; } cases[] = {
		{ "a kind", "kind = \"receiver\"; what = 1;", "receiver" },
		{ "none", "what = 1;", NULL },
		{ "a number", "kind = 5;", NULL },
		{ "longer than the room", "kind = \"0123456789abcdef\";", NULL },
		{ "not libconfig", "{{{", NULL },
	};
	char path[ROOM], kind[16];

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct fault why = { 0 };
		int result = settings_kind(put(*state, "a.conf", cases[i].text, path), kind, sizeof kind, &why);
		if ((result == 0) != (cases[i].kind != NULL) ||
		    (result == 0 && strcmp(kind, cases[i].kind) != 0) ||
		    (result < 0 && why.kind != FAULT_INPUT))
			fail_msg("%s: %d, \"%s\"", cases[i].why, result, why.text);
	}
	assert_int_equal(settings_kind("/tmp", kind, sizeof kind, NULL), -1);
	assert_int_equal(settings_kind("/dev/zero", kind, sizeof kind, NULL), -1);
}

static void paths_beside(void **state)
{
	static const struct { const char *beside, *path, *out; } cases[] = {
		{ "/etc/bandcensus/a.conf", "b.conf", "/etc/bandcensus/b.conf" },
		{ "/etc/bandcensus/a.conf", "/b.conf", "/b.conf" },
		{ "a.conf", "b.conf", "b.conf" },
		{ "sub/a.conf", "../b.conf", "sub/../b.conf" },
		{ "/a.conf", "b.conf", "/b.conf" },
		{ "sub/a.conf", "a-name-that-has-no-room.conf", NULL },
	};
	char out[24];
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		int result = settings_beside(cases[i].beside, cases[i].path, out, sizeof out);
		if ((result == 0) != (cases[i].out != NULL) || (result == 0 && strcmp(out, cases[i].out) != 0))
			fail_msg("%s beside %s: %s", cases[i].path, cases[i].beside, out);
	}
}

struct told {
	int  n;
	char text[512];                 /* names and texts, one after the other */
};

static int tell(void *self, const char *file, const char *text)
{
	struct told *t = self;
	size_t at = strlen(t->text);

	snprintf(t->text + at, sizeof t->text - at, "%s=%s|", strrchr(file, '/') + 1, text);
	return ++t->n == 3 ? 7 : 0;
}

static void files_as_they_are_written(void **state)
{
	char path[ROOM], other[ROOM];
	struct fault why = { 0 };
	struct told t = { 0 };

	put(*state, "b.conf", "# kept too\r\ncount = 4;", other);
	put(*state, "a.conf", "word = \"x\";\n@include \"b.conf\"\n", path);
	assert_int_equal(settings_texts(path, tell, &t, &why), 0);
	assert_string_equal(t.text, "b.conf=# kept too\r\ncount = 4;|"
			    "a.conf=word = \"x\";\n@include \"b.conf\"\n|");
	assert_int_equal(settings_texts(path, tell, &t, &why), 7);
	put(*state, "b.conf", "@include \"a.conf\"\n", other);
	assert_int_equal(settings_texts(path, tell, &t, &why), -1);
}

/* Each of ten files includes the next a hundred times: together they would be read for ever. */
static void what_includes_too_much(void **state)
{
	size_t room = 5 << 20;
	char *text = malloc(room);
	char path[ROOM], name[16];
	struct fault why = { 0 };

	assert_non_null(text);
	for (int i = 0; i < 10; i++) {
		size_t n = 0;
		for (int k = 0; k < 100 && i < 9; k++)
			n += (size_t)sprintf(text + n, "@include \"%d.conf\"\n", i + 1);
		strcpy(text + n, "# a line that is not empty\n");
		snprintf(name, sizeof name, "%d.conf", i);
		put(*state, name, text, path);
	}
	snprintf(path, sizeof path, "%s/0.conf", ((struct folder *)*state)->path);
	assert_int_equal(settings_texts(path, NULL, NULL, &why), -1);
	assert_int_equal(why.kind, FAULT_INPUT);
	assert_non_null(strstr(why.text, "is too long, must be at most 4 MiB"));
	memset(text, '#', room - 1);
	text[room - 1] = '\0';
	assert_int_equal(settings_texts(put(*state, "0.conf", text, path), NULL, NULL, &why), -1);
	assert_non_null(strstr(why.text, "0.conf:1: is too long"));
	text[4 << 20] = '\0';
	assert_int_equal(settings_texts(put(*state, "0.conf", text, path), NULL, NULL, &why), 0);
	free(text);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_folder, drop_folder)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(kinds_of_files), TEST(files_as_they_are_written), TEST(paths_beside),
		TEST(what_includes_too_much),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
