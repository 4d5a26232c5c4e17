#include "tests/test.h"

#include <string.h>

#include "dsp/freq.h"
#include "dsp/raster.h"

#define MHZ(m) (INT64_C(3000000) * (m))

static const struct {
	const char *text;
	int64_t     thirds;
	const char *hz;         /* freq_format     */
	const char *mhz;        /* freq_format_mhz */
} freqs[] = {
	{ "154235000",          INT64_C(462705000), "154235000",     "154.235" },
	{ "154.2725 MHz",       INT64_C(462817500), "154272500",     "154.2725" },
	{ "363925000/3",        INT64_C(363925000), "121308333.333", "121.308333" },
	{ "121308333.333",      INT64_C(363925000), "121308333.333", "121.308333" },
	{ "121.308333333 MHz",  INT64_C(363925000), "121308333.333", "121.308333" },
	{ "382925000/3 Hz",     INT64_C(382925000), "127641666.667", "127.641667" },
	{ "127641666.667",      INT64_C(382925000), "127641666.667", "127.641667" },
	{ "25/3kHz",            25000,              "8333.333",      "0.008333" },
	{ "6.25 kHz",           18750,              "6250",          "0.00625" },
	{ "1.3 ghz",            MHZ(1300),          "1300000000",    "1300.000" },
	{ "0",                  0,                  "0",             "0.000" },
	{ "-4.6 MHz",           -13800000,          "-4600000",      "-4.600" },
};

static void text_and_back(void **state)
{
	char out[FREQ_TEXT];
	(void)state;
	for (size_t i = 0; i < sizeof freqs / sizeof freqs[0]; i++) {
		struct freq f = { -1 };
		if (freq_parse(freqs[i].text, &f) < 0 || f.thirds != freqs[i].thirds)
			fail_msg("%s: got %lld thirds", freqs[i].text, (long long)f.thirds);
		assert_string_equal(freq_format(out, f), freqs[i].hz);
		assert_string_equal(freq_format_mhz(out, f), freqs[i].mhz);
	}
}

static void refused_texts(void **state)
{
	static const char *const bad[] = {
		"", "MHz", "12,5 kHz", "12.5 kilohertz", "1/0", "1/7", "0.1", "8.33 kHz x", "1..2",
		"99999999999999999999", "nan", "121308333.3", "12.5.5", "0x10", "1e6",
	};
	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct freq f = { 42 };
		if (freq_parse(bad[i], &f) == 0)
			fail_msg("\"%s\" was taken as %lld thirds", bad[i], (long long)f.thirds);
		assert_int_equal(f.thirds, 42);
	}
}

static const struct raster air = { { MHZ(118) }, { 25000 }, 2280 };

static const struct {
	const char *why;
	int64_t     thirds;
	int32_t     channel;
} cases[] = {
	{ "a centre is its own channel",        MHZ(118),          0 },
	{ "three steps are 25 kHz, exactly",    MHZ(118) + 75000,  3 },
	{ "a tie goes down",                    MHZ(118) + 12500,  0 },
	{ "a third past the tie goes up",       MHZ(118) + 12501,  1 },
	{ "half a step below is still in",      MHZ(118) - 12500,  0 },
	{ "past half a step below is out",      MHZ(118) - 12501, -1 },
	{ "the last channel",                   MHZ(118) + INT64_C(2279) * 25000, 2279 },
	{ "half a step above the last is in",   MHZ(118) + INT64_C(2279) * 25000 + 12500, 2279 },
	{ "past half a step above is out",      MHZ(118) + INT64_C(2279) * 25000 + 12501, -1 },
	{ "far away is out",                    MHZ(1000), -1 },
};

static void nearest_channel(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		int32_t got = raster_nearest(&air, (struct freq){ cases[i].thirds });
		if (got != cases[i].channel)
			fail_msg("%s: got %d, want %d", cases[i].why, got, cases[i].channel);
	}
	for (int32_t c = 0; c < air.count; c++)
		assert_int_equal(raster_nearest(&air, raster_centre(&air, c)), c);
}

static void between_limits(void **state)
{
	(void)state;
	/* ICAO Annex 10 Vol. V: 760 channels at 25 kHz, 2280 at 8.33 kHz (both read). */
	struct raster wide = raster_between(FREQ_KHZ(118000), FREQ_KHZ(136975), FREQ_KHZ(118000),
					    FREQ_KHZ(25));
	struct raster fine = raster_between(FREQ_KHZ(118000), (struct freq){ INT64_C(410975000) },
					    FREQ_KHZ(118000), (struct freq){ 25000 });
	assert_int_equal(wide.count, 760);
	assert_int_equal(fine.count, 2280);
	/* A base outside the limits, on either side, phases the row all the same. */
	struct raster rail = raster_between(FREQ_KHZ(160185), FREQ_KHZ(161565), FREQ_KHZ(160110),
					    FREQ_KHZ(15));
	assert_int_equal(rail.count, 93);
	assert_int_equal(rail.first.thirds, FREQ_KHZ(160185).thirds);
	struct raster above = raster_between(FREQ_HZ(100), FREQ_HZ(130), FREQ_HZ(205), FREQ_HZ(10));
	assert_int_equal(above.first.thirds, FREQ_HZ(105).thirds);
	assert_int_equal(above.count, 3);
	assert_int_equal(raster_between(FREQ_HZ(101), FREQ_HZ(104), FREQ_HZ(0), FREQ_HZ(10)).count, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(text_and_back),
		cmocka_unit_test(refused_texts),
		cmocka_unit_test(nearest_channel),
		cmocka_unit_test(between_limits),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
