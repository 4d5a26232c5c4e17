#include "tests/test.h"

#include <stdint.h>
#include <string.h>

#include "daemon/progress.h"

#define SECOND INT64_C(1000000)

static const struct {
	const char *why;
	double      share;
	int64_t     worked_us;
	const char *text;
} drawn[] = {
	{ "nothing is done", 0, 0, "........................................   0 %" },
	{ "time went by and nothing is done", 0, 3600 * SECOND,
	  "........................................   0 %" },
	{ "a little shows, but is too early to guess by", 0.004, 5 * SECOND,
	  "=.......................................   0 %" },
	{ "one per cent is still too early", 0.01, 5 * SECOND,
	  "=.......................................   1 %" },
	{ "two per cent took 2 s, 98 go on", 0.02, 2 * SECOND + 10000,
	  "=.......................................   2 %  1:38 left" },
	{ "half", 0.5, 65 * SECOND + 500000, "====================....................  50 %  1:05 left" },
	{ "half, at once", 0.5, 0, "====================....................  50 %  0:00 left" },
	{ "an hour and more is in minutes", 0.25, 2000 * SECOND,
	  "==========..............................  25 %  100:00 left" },
	{ "all but a little", 0.999, 999 * SECOND + 500000,
	  "======================================== 100 %  0:01 left" },
	{ "done", 1, 65 * SECOND, "======================================== 100 %  0:00 left" },
	{ "past the end is done", 1.7, 65 * SECOND,
	  "======================================== 100 %  0:00 left" },
	{ "before the start is nothing", -0.3, 65 * SECOND,
	  "........................................   0 %" },
};

static void what_is_drawn(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof drawn / sizeof drawn[0]; i++) {
		char text[PROGRESS_TEXT];
		progress_text(text, sizeof text, drawn[i].share, drawn[i].worked_us);
		if (strcmp(text, drawn[i].text) != 0)
			fail_msg("%s: \"%s\", want \"%s\"", drawn[i].why, text, drawn[i].text);
	}
}

/* The bar never shrinks, and the longest text there is has room. */
static void grows_and_fits(void **state)
{
	size_t full = 0;
	(void)state;

	for (int i = 0; i <= 1000; i++) {
		char text[PROGRESS_TEXT + 40];
		progress_text(text, sizeof text, i / 1000.0, INT64_MAX);
		size_t n = strspn(text, "=");
		if (n < full || strlen(text) >= PROGRESS_TEXT)
			fail_msg("at %d of 1000: \"%s\" after a bar of %zu", i, text, full);
		full = n;
	}
	assert_int_equal(full, 40);
}

static void cut_to_its_room(void **state)
{
	char text[12];
	(void)state;

	memset(text, 'x', sizeof text);
	progress_text(text, 8, 1, SECOND);
	assert_string_equal(text, "=======");
	assert_int_equal(text[8], 'x');
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_is_drawn),
		cmocka_unit_test(grows_and_fits),
		cmocka_unit_test(cut_to_its_room),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
