#include "tests/test.h"

#include "dsp/tone.h"

/* The 38 tones of the trade's common list and the twelve of longer ones, in tenths of a hertz, from
 * memory. */
static void the_standard_tones(void **state)
{
	static const int32_t want[TONES] = {
		670, 693, 719, 744, 770, 797, 825, 854, 885, 915, 948, 974, 1000, 1035, 1072, 1109, 1148,
		1188, 1230, 1273, 1318, 1365, 1413, 1462, 1514, 1567, 1598, 1622, 1655, 1679, 1713, 1738,
		1773, 1799, 1835, 1862, 1899, 1928, 1966, 1995, 2035, 2065, 2107, 2181, 2257, 2291, 2336,
		2418, 2503, 2541,
	};
	(void)state;

	for (int i = 0; i < TONES; i++)
		assert_int_equal(tone_ddhz(i), want[i]);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_standard_tones),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
