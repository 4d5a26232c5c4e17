#include "tests/test.h"

#include <math.h>

#include "dsp/subtone.h"
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

/* Three words of each code, one up and nought down, eight values a bit: all of the power about the mean is explained, and
 * by no other code. Each has eleven ones or twelve, so a mean of 1/23, and 1 - 1/23^2 is left. */
static void a_code_explains_itself(void **state)
{
	enum { BITS = 23, CELLS = 8, N = 3 * BITS * CELLS };

	(void)state;
	for (int k = 0; k < CODES; k++) {
		uint32_t word = code_word(code_bits(k));
		double explained[CODES];
		float x[N];
		assert_in_range(__builtin_popcount(word), 11, 12);
		for (int i = 0; i < N; i++)
			x[i] = word >> (i / CELLS + k) % BITS & 1 ? 300 : -300;         /* begins anywhere */
		/* A hair slower, so that no value falls before its cell. */
		struct tone_fit f = code_fit(x, N, 134.4 * CELLS * (1 - 1e-9), explained);
		if (f.best != k || !(fabs(f.share - 1) < 1e-6) || !(fabs(f.peak_hz / 300 - sqrt(528 / 529.0)) < 1e-6))
			fail_msg("%03o: %03o explains %.6f of it, peak %.3f", code_bits(k), code_bits(f.best), f.share,
				 f.peak_hz);
	}
}

#define HZ 8000
#define START_S 0.07            /* that the filter takes, and a little */

/* Peaks of 88.5, 162.2 and 203.5 Hz at once, how long they are heard, how far the first is off, and what is said. A share
 * is a tone's power over all. */
static void what_is_below(void **state)
{
	static const struct {
		const char *why;
		double      peak_hz[3], seconds, off_hz;
		enum below  is;
		double      share;
	} rows[] = {
		{ "a plain one in half a second",       { 200, 0, 0 },     0.5, 0, BELOW_TONE,    1 },
		{ "six tenths of it are too little",    { 300, 245, 0 },   0.5, 0, BELOW_UNKNOWN, 0.6 },
		{ "not in 0.7 s",                       { 300, 245, 0 },   0.7, 0, BELOW_TONE,    0.6 },
		{ "four tenths are",                    { 300, 260, 260 }, 0.7, 0, BELOW_NOTHING, 0.4 },
		{ "not in 1.6 s",                       { 300, 260, 260 }, 1.6, 0, BELOW_TONE,    0.4 },
		{ "three of them alike",                { 300, 295, 295 }, 1.6, 0, BELOW_NOTHING, 0.34 },
		{ "a peak of 125 Hz",                   { 125, 0, 0 },     1.6, 0, BELOW_TONE,    1 },
		{ "less than 120 Hz is nobody's",       { 115, 0, 0 },     1.6, 0, BELOW_NOTHING, 1 },
		{ "in half a second nobody can say so", { 115, 0, 0 },     0.5, 0, BELOW_UNKNOWN, 1 },
		{ "too short for anything",             { 200, 0, 0 },     0.3, 0, BELOW_UNKNOWN, 0 },
		/* Tried at the standard frequency, less of it fits: 1 - sinc(0.08)^2 of 0.8 s. */
		{ "a tenth of a hertz high",            { 200, 0, 0 },     1.6, 0.1, BELOW_TONE,  0.98 },
		{ "a tenth low",                        { 200, 0, 0 },     1.6, -0.1, BELOW_TONE, 0.98 },
	};
	struct subtone *s = subtone_create(HZ);

	(void)state;
	assert_non_null(s);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const double tone_hz[3] = { 88.5 + rows[i].off_hz, 162.2, 203.5 };
		struct subtone_word w;
		subtone_reset(s);
		for (int n = 0; n < (int)((START_S + rows[i].seconds) * HZ); n++) {
			double hz = 0;
			for (int k = 0; k < 3; k++)
				hz += rows[i].peak_hz[k] * sin(2 * M_PI * tone_hz[k] * n / HZ);
			subtone_feed(s, &(float){ (float)hz }, 1);
		}
		subtone_take(s, &w);
		bool tone = rows[i].is == BELOW_TONE;
		if (w.below != rows[i].is || w.tone_ddhz != (tone ? 885 : 0) || w.code ||
		    !(fabs(w.share - rows[i].share) < 0.02) ||
		    (tone && !(fabs(w.peak_hz / rows[i].peak_hz[0] - 1) < 0.03 && fabs(w.hz - tone_hz[0]) < 0.02)))
			fail_msg("%s: %s, %d, %.3f of it, peak %.1f, %.2f s", rows[i].why, below_name(w.below), w.tone_ddhz,
				 w.share, w.peak_hz, w.seconds);
	}
	subtone_destroy(s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_standard_tones),
		cmocka_unit_test(a_code_explains_itself),
		cmocka_unit_test(what_is_below),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
