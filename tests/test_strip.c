#include "tests/test.h"

#include <string.h>

#include "dsp/track.h"
#include "store/strip.h"

#define CELLS 3000

static void there_and_back(void **state)
{
	uint8_t cells[CELLS], got[CELLS], packed[2 * CELLS];

	(void)state;
	for (int i = 0; i < CELLS; i++)
		cells[i] = (uint8_t)(i % 7 ? STRIP_QUIET : i % (STRIP_HEARD + LEVEL_BINS));
	assert_true(strip_room(CELLS) <= sizeof packed);
	size_t n = strip_pack(cells, CELLS, packed);
	assert_in_range(n, 1, CELLS / 2);
	assert_int_equal(strip_unpack(packed, n, got, CELLS), 0);
	assert_memory_equal(got, cells, CELLS);
	assert_true(strip_holds(packed, n, CELLS));
}

static void what_is_no_strip(void **state)
{
	static const uint8_t none[CELLS];
	uint8_t cells[CELLS] = { 0 }, got[CELLS], packed[2 * CELLS];
	size_t n = strip_pack(cells, CELLS, packed);

	(void)state;
	static const struct {
		const char *why;
		size_t      packed, cells;
	} cases[] = {
		{ "cut short", 4, CELLS },
		{ "too few cells", 0, CELLS - 1 },
		{ "nothing at all", 1, CELLS },
	};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		memset(got, 9, sizeof got);
		if (strip_unpack(packed, cases[i].packed ? n - cases[i].packed : n, got, cases[i].cells) != -1)
			fail_msg("%s: taken", cases[i].why);
		if (strip_holds(packed, cases[i].packed ? n - cases[i].packed : n, cases[i].cells))
			fail_msg("%s: held good", cases[i].why);
		assert_memory_equal(got, none, cases[i].cells);
	}
	cells[7] = STRIP_HEARD + LEVEL_BINS;            /* louder than there is */
	n = strip_pack(cells, CELLS, packed);
	assert_int_equal(strip_unpack(packed, n, got, CELLS), -1);
	assert_false(strip_holds(packed, n, CELLS));
	assert_memory_equal(got, none, CELLS);
}

static void joined(void **state)
{
	uint8_t cells[] = { STRIP_NOT_LOOKED, STRIP_QUIET, STRIP_HEARD + 9, STRIP_QUIET };
	const uint8_t more[] = { STRIP_QUIET, STRIP_HEARD, STRIP_HEARD + 3, STRIP_NOT_LOOKED };
	const uint8_t want[] = { STRIP_QUIET, STRIP_HEARD, STRIP_HEARD + 9, STRIP_QUIET };

	(void)state;
	strip_join(cells, more, sizeof cells);
	assert_memory_equal(cells, want, sizeof cells);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(there_and_back),
		cmocka_unit_test(what_is_no_strip),
		cmocka_unit_test(joined),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
