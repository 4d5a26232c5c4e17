#include "tests/test.h"

#include <string.h>

#include "store/levels.h"

static void levels_survive_packing(void **state)
{
	static const struct { const char *why; int bin; int64_t us, looks; } cases[] = {
		{ "the first bin",                  0, 1, 1 },
		{ "the last bin",                  79, 1, 1 },
		{ "looks without time",             5, 0, 3 },
		{ "time without looks",             5, 3, 0 },
		{ "one byte's most",               40, 127, 127 },
		{ "two bytes' least",              40, 128, 128 },
		{ "as much as there is",           40, INT64_MAX, INT64_MAX },
	};
	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		int64_t us[LEVEL_BINS] = { 0 }, looks[LEVEL_BINS] = { 0 };
		int64_t us2[LEVEL_BINS], looks2[LEVEL_BINS];
		uint8_t bytes[LEVELS_ROOM];

		us[cases[i].bin] = cases[i].us;
		looks[cases[i].bin] = cases[i].looks;
		size_t n = levels_pack(us, looks, bytes);
		if (levels_unpack(bytes, n, us2, looks2) < 0 || memcmp(us, us2, sizeof us) != 0 ||
		    memcmp(looks, looks2, sizeof looks) != 0)
			fail_msg("%s: did not survive", cases[i].why);
		for (size_t cut = 1; cut < n; cut++)
			if (levels_unpack(bytes, cut, us2, looks2) == 0)
				fail_msg("%s: cut to %zu of %zu bytes it passes", cases[i].why, cut, n);
	}
}

static void all_bins_fit(void **state)
{
	int64_t us[LEVEL_BINS], us2[LEVEL_BINS], looks2[LEVEL_BINS];
	uint8_t bytes[LEVELS_ROOM + 1];
	(void)state;

	for (int i = 0; i < LEVEL_BINS; i++)
		us[i] = INT64_MAX - i;
	bytes[LEVELS_ROOM] = 0x5a;
	size_t n = levels_pack(us, us, bytes);
	assert_int_equal(n, LEVELS_ROOM);
	assert_int_equal(bytes[LEVELS_ROOM], 0x5a);
	assert_int_equal(levels_unpack(bytes, n, us2, looks2), 0);
	assert_memory_equal(us2, us, sizeof us);
	assert_memory_equal(looks2, us, sizeof us);
}

static void damaged_levels_are_refused(void **state)
{
	static const struct { const char *why; size_t n; uint8_t bytes[12]; } cases[] = {
		{ "a bin past the last",        3, { 80, 1, 1 } },
		{ "a second bin past the last", 6, { 79, 1, 1, 0, 1, 1 } },
		{ "a skip of 2^56 bins",       11, { 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 1, 1, 1 } },
		{ "a number of ten bytes",     12, { 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0, 1, 1 } },
		{ "a number without end",       3, { 0, 1, 0x80 } },
	};
	int64_t us[LEVEL_BINS], looks[LEVEL_BINS];
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		if (levels_unpack(cases[i].bytes, cases[i].n, us, looks) == 0)
			fail_msg("%s: passes", cases[i].why);
		for (int b = 0; b < LEVEL_BINS; b++)
			assert_int_equal(us[b] | looks[b], 0);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(levels_survive_packing),
		cmocka_unit_test(all_bins_fit),
		cmocka_unit_test(damaged_levels_are_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
