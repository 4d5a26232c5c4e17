#include "tests/test.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/fault.h"

#define ROOM sizeof ((struct fault *)0)->text

/* A line that fits stays as it is, to the last byte; a longer one keeps its beginning and its reason. */
static void a_long_path_hides_no_reason(void **state)
{
	static const struct {
		const char *why;
		size_t      path;
		bool        whole;
	} cases[] = {
		{ "short", 20, true },
		{ "fits just so", ROOM - 1 - sizeof ": File name too long" + 1, true },
		{ "a byte too many", ROOM - sizeof ": File name too long" + 1, false },
		{ "as long as a path may be", 4095, false },
		{ "longer", 5000, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		char *path = malloc(cases[i].path + 1), want[6000];
		struct fault why = { 0 };
		assert_non_null(path);
		memset(path, 'p', cases[i].path);
		path[cases[i].path] = '\0';
		snprintf(want, sizeof want, "%s: File name too long", path);
		assert_int_equal(fault_set(&why, FAULT_INPUT, "%s: %s", path, "File name too long"), -1);
		assert_int_equal(why.kind, FAULT_INPUT);
		const char *end = strstr(why.text, "p: File name too long");
		if (!end || end[21] != '\0' || why.text[0] != 'p' || strlen(why.text) >= ROOM ||
		    (strcmp(why.text, want) == 0) != cases[i].whole || (strstr(why.text, "...") == NULL) != cases[i].whole)
			fail_msg("%s: says %s", cases[i].why, why.text);
		free(path);
	}
}

/* A fault may be told in the words of the one before it, and nobody needs to hear it. */
static void one_fault_in_anothers_words(void **state)
{
	struct fault why = { 0 };

	(void)state;
	fault_set(&why, FAULT_RETRY, "night.survey: the disk is full");
	fault_set(&why, FAULT_FATAL, "nothing of this watch: %s", why.text);
	assert_string_equal(why.text, "nothing of this watch: night.survey: the disk is full");
	assert_int_equal(fault_exit(&why), 1);
	why.kind = FAULT_INPUT;
	assert_int_equal(fault_exit(&why), 2);
	assert_int_equal(fault_set(NULL, FAULT_INPUT, "unheard"), -1);
}

/* errno(3). What a person must mend is a name or a permission; the rest goes by itself, or with somebody else. */
static void what_passes_is_tried_again(void **state)
{
	static const struct {
		int             error;
		enum fault_kind kind;
	} cases[] = {
		{ ENOENT, FAULT_INPUT }, { EACCES, FAULT_INPUT }, { EPERM, FAULT_INPUT }, { ENOTDIR, FAULT_INPUT },
		{ EISDIR, FAULT_INPUT }, { ENAMETOOLONG, FAULT_INPUT }, { ELOOP, FAULT_INPUT }, { 0, FAULT_INPUT },
		{ ENOSPC, FAULT_RETRY }, { EDQUOT, FAULT_RETRY }, { EROFS, FAULT_RETRY }, { EIO, FAULT_RETRY },
		{ EMFILE, FAULT_RETRY }, { ENFILE, FAULT_RETRY }, { ENOMEM, FAULT_RETRY }, { EADDRINUSE, FAULT_RETRY },
		{ EADDRNOTAVAIL, FAULT_RETRY },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
		if (fault_kind_of(cases[i].error) != cases[i].kind)
			fail_msg("%s: kind %d", strerror(cases[i].error), fault_kind_of(cases[i].error));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_long_path_hides_no_reason),
		cmocka_unit_test(one_fault_in_anothers_words),
		cmocka_unit_test(what_passes_is_tried_again),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
