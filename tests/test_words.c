/* Facts in words. */
#include "tests/test.h"

#include <string.h>

#include "tools/plan/words.h"

#define NOON_US INT64_C(1767268800000000)       /* 2026-01-01T12:00:00Z */
#define MIN_US  INT64_C(60000000)

static int32_t two_hours_ahead(int64_t us) { (void)us; return 7200; }

static void times(void **state)
{
	char out[TIME_TEXT], clock[8];
	struct census c = { .ahead_s = two_hours_ahead };

	(void)state;
	assert_string_equal(words_time(out, NOON_US + 5 * MIN_US + 9999999), "2026-01-01T12:05:09Z");
	assert_string_equal(words_local(out, &c, NOON_US + 10 * HOUR_US + 7 * MIN_US), "2026-01-02 00:07");
	assert_string_equal(words_clock(clock, NOON_US + 61 * MIN_US - 1), "13:00");
	assert_string_equal(words_clock(clock, NOON_US + 61 * MIN_US), "13:01");
	assert_string_equal(words_clock(clock, NOON_US + 12 * HOUR_US - 1), "23:59");
	assert_string_equal(words_clock(clock, NOON_US + 12 * HOUR_US), "00:00");
}

static void hours(void **state)
{
	static const struct { uint32_t hours; const char *want; } by[] = {
		{ 1u << 7, "07-08 h" }, { 1u << 23, "23-00 h" }, { 1, "00-01 h" }, { 3, "00-02 h" },
		{ 1u << 23 | 1, "23-01 h" }, { 1u << 5 | 1u << 7, "05-06 h, 07-08 h" }, { 0xffffff & ~1u, "01-00 h" },
		{ 0xffffff, "all hours" }, { 0, "no hour" },
	};
	char out[80];

	(void)state;
	for (size_t i = 0; i < sizeof by / sizeof by[0]; i++)
		assert_string_equal(words_hours(by[i].hours, out, sizeof out), by[i].want);
	assert_string_equal(words_hours(0x555555, out, 10), "00-01 h, ");        /* as far as there is room */
}

static void frequencies(void **state)
{
	char out[FREQ_TEXT];

	(void)state;
	assert_string_equal(words_display((struct freq){ INT64_C(3) * 162549999 + 2 }, 4, out), "162.5499");
	assert_string_equal(words_display(FREQ_HZ(5000123), 6, out), "5.000123");
	assert_string_equal(words_display(FREQ_HZ(5000123), 3, out), "5.000");
	assert_string_equal(words_typed(FREQ_HZ(162550000), out), "162.55");
	assert_string_equal(words_typed(FREQ_HZ(160000000), out), "160");
	assert_string_equal(words_typed(FREQ_HZ(451012500), out), "451.0125");
}

/* An evening's overs by clock, of more than a day by hours; what is always on by looks; what sweeps met too shortly
 * for an over by looks, too. */
static void evidence(void **state)
{
	struct channel ch = { .overs = 37, .first_us = NOON_US + 580 * MIN_US, .last_us = NOON_US + 1030 * MIN_US,
			      .occupancy = 0.1, .level_db = 24, .hours = 1u << 21 | 1u << 22, .looks = { .looks = 1290, .busy = 12 } };
	struct census c = { .wall_us = 12 * HOUR_US };
	char out[200];

	(void)state;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "37 overs, 21:40-05:10, median 24 dB");
	c.ahead_s = two_hours_ahead;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "37 overs, 23:40-07:10, median 24 dB");
	ch.last_us = ch.first_us + 24 * HOUR_US - 1;
	ch.overs = 1;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "1 over, 23:40-23:39, median 24 dB");
	ch.last_us++;
	ch.level_db = 7.4;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "1 over, 21-23 h, median 7 dB: faint");
	ch.level_db = 7.6;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "1 over, 21-23 h, median 8 dB");
	ch.nature.designator[0] = '\0';
	ch.nature.believed = 1;
	ch.nature.users.user[0].tone_ddhz = 1000;
	ch.nature.users.user[0].overs = 5;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "1 over, 21-23 h, median 8 dB, tone 100.0");
	ch.nature.believed = 0;
	ch.occupancy = CONTINUOUS_SHARE + 0.01;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "always on: 1290 looks over 12 h, median 8 dB");
	ch.overs = 0;
	words_evidence(&c, &ch, out, sizeof out);
	assert_string_equal(out, "busy in 12 of 1290 looks");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(times),
		cmocka_unit_test(hours),
		cmocka_unit_test(frequencies),
		cmocka_unit_test(evidence),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
