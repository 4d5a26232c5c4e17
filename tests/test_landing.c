#include "tests/test.h"

#include "tests/night_world.h"
#include "tests/shelf_receiver.h"
#include "tools/plan/landing.h"
#include "tools/plan/scan.h"
#include "tools/plan/words.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- landing: all rows common practice, errors computed ---- */

static const struct {
	const char *why;
	const char *first, *step;
	int32_t     count;
	enum mode   mode;
	int32_t     want_hz, worst_hz;
} steps[] = {
	{ "25 kHz: 12.5 lands exactly and is the coarser", "156.050 MHz", "25 kHz", 55, MODE_NFM, 12500, 0 },
	{ "12.5 kHz", "450.0125 MHz", "12.5 kHz", 100, MODE_NFM, 12500, 0 },
	{ "15 kHz only meets 5", "160.185 MHz", "15 kHz", 90, MODE_NFM, 5000, 0 },
	{ "20 kHz", "222.0 MHz", "20 kHz", 100, MODE_NFM, 5000, 0 },
	{ "30 kHz", "152.03 MHz", "30 kHz", 20, MODE_NFM, 5000, 0 },
	{ "7.5 kHz errs by 2.5 at the worst", "154.2725 MHz", "7.5 kHz", 40, MODE_NFM, 5000, 2500 },
	{ "12.5 kHz offset by 6.25: 12.5 would always be 6.25 off", "446.00625 MHz", "12.5 kHz", 16,
	  MODE_NFM, 5000, 1250 },
	{ "8.33 kHz: 5 errs 1.67, 12.5 would err 4.17", "118.0 MHz", "25/3 kHz", 300, MODE_AM, 5000, 1667 },
	{ "100 kHz", "87.5 MHz", "100 kHz", 200, MODE_WFM, 50000, 0 },
	{ "50 kHz", "87.5 MHz", "50 kHz", 200, MODE_WFM, 50000, 0 },
};

static struct raster raster_of(const char *first, const char *step, int32_t count)
{
	struct raster r = { .count = count };

	assert_int_equal(freq_parse(first, &r.first), 0);
	assert_int_equal(freq_parse(step, &r.step), 0);
	return r;
}

static void step_by_raster(void **state)
{
	struct receiver r = shelf_receiver();

	(void)state;
	for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
		struct raster raster = raster_of(steps[i].first, steps[i].step, steps[i].count);
		struct freq step = landing_step(&r, &r.reach[0], &raster);
		double worst = 0;
		for (int32_t n = 0; n < raster.count; n++) {
			struct freq f = raster_centre(&raster, n);
			worst = fmax(worst,
				     fabs(freq_to_hz(landing_nearest(r.landing_base, f, step)) -
					  freq_to_hz(f)));
		}
		if (step.thirds != FREQ_HZ(steps[i].want_hz).thirds ||
		    lround(worst) != steps[i].worst_hz)
			fail_msg("%s: step %.0f Hz errs %.0f Hz", steps[i].why, freq_to_hz(step),
				 worst);
	}
}

static const struct {
	const char *why, *frequency;
	const char *first, *raster;     /* NULL: stands alone                */
	enum mode   mode;
	const char *landed, *step;      /* landed NULL: not receivable       */
	bool        fits;
} landings[] = {
	{ "on the 5 kHz grid only", "154.235 MHz",
	  "154.0 MHz", "2.5 kHz", MODE_NFM, "154.235 MHz", "5 kHz", true },
	{ "marine, on all three grids: 12.5 meets every other one too", "156.8 MHz",
	  "156.05 MHz", "25 kHz", MODE_NFM, "156.8 MHz", "12.5 kHz", true },
	{ "marine, half way between 50s", "156.625 MHz",
	  "156.05 MHz", "25 kHz", MODE_NFM, "156.625 MHz", "12.5 kHz", true },
	{ "marine with no raster told: the coarser", "156.8 MHz",
	  NULL, NULL, MODE_NFM, "156.8 MHz", "50 kHz", true },
	{ "a tie in error goes to the raster's own step", "154.2725 MHz",
	  "154.0 MHz", "2.5 kHz", MODE_NFM, "154.270 MHz", "5 kHz", true },
	{ "the least error before the raster's own step", "460.1375 MHz",
	  "460.0 MHz", "6.25 kHz", MODE_NFM, "460.1375 MHz", "12.5 kHz", true },
	{ "the same raster, exact on both: its own", "460.4 MHz",
	  "460.0 MHz", "6.25 kHz", MODE_NFM, "460.4 MHz", "5 kHz", true },
	{ "an 8.33 kHz channel", "363925000/3 Hz",
	  "118.0 MHz", "25/3 kHz", MODE_AM, "121.310 MHz", "5 kHz", true },
	{ "among 8.33 kHz channels one on 50 kHz", "118.45 MHz",
	  "118.0 MHz", "25/3 kHz", MODE_AM, "118.45 MHz", "5 kHz", true },
	{ "broadcast on 100 kHz", "98.3 MHz",
	  "87.5 MHz", "100 kHz", MODE_WFM, "98.3 MHz", "50 kHz", true },
	{ "above a 6.25 offset", "451.30625 MHz",
	  "451.0 MHz", "6.25 kHz", MODE_NFM, "451.305 MHz", "5 kHz", true },
	{ "in the gap", "870 MHz",
	  NULL, NULL, MODE_NFM, NULL, NULL, false },
	{ "below all", "10 MHz",
	  NULL, NULL, MODE_NFM, NULL, NULL, false },
};

static void lands(void **state)
{
	struct receiver r = shelf_receiver();

	(void)state;
	for (size_t i = 0; i < sizeof landings / sizeof landings[0]; i++) {
		struct freq f, landed, step;
		struct landing got;
		const char *why;
		assert_int_equal(freq_parse(landings[i].frequency, &f), 0);
		struct raster own = { .count = 0 };
		if (landings[i].first)
			own = raster_of(landings[i].first, landings[i].raster, 200);
		int result = landing_find(&r, f, landings[i].mode, own.count ? &own : NULL, &got);
		if (!landings[i].landed) {
			if (result == 0)
				fail_msg("%s: lands", landings[i].why);
			continue;
		}
		assert_int_equal(freq_parse(landings[i].landed, &landed), 0);
		assert_int_equal(freq_parse(landings[i].step, &step), 0);
		if (result < 0 || got.landed.thirds != landed.thirds ||
		    got.step.thirds != step.thirds)
			fail_msg("%s: lands on %.3f by %.0f", landings[i].why,
				 freq_to_hz(got.landed), freq_to_hz(got.step));
		assert_int_equal(got.error.thirds, got.landed.thirds - f.thirds);
		assert_int_equal(landing_fits(&r, landings[i].mode, 11000, got.error, &why),
				 landings[i].fits);
	}
}

static const struct {
	const char *why;
	enum mode   mode;
	double      width_hz;
	int32_t     error_hz;
	bool        fits;
} errors[] = {
	{ "2.5 kHz is fair in narrow FM", MODE_NFM, 16000, 2500, true },
	{ "3 kHz: 3 + 5.5 + 1 is over half of 15 and 1.5", MODE_NFM, 11000, 3000, false },
	{ "3 kHz of a narrower one stays inside", MODE_NFM, 9000, 3000, true },
	{ "above 4 kHz never", MODE_NFM, 1000, 4001, false },
	{ "below as above", MODE_NFM, 1000, -4001, false },
	{ "2 kHz is fair in AM", MODE_AM, 6000, 2000, true },
	{ "4.17 kHz is not", MODE_AM, 6000, 4167, false },
	{ "25 kHz is nothing to wide FM", MODE_WFM, 180000, 25000, true },
	{ "more is", MODE_WFM, 180000, 25001, false },
};

static void error_limits(void **state)
{
	struct receiver r = shelf_receiver();

	(void)state;
	for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
		const char *why;
		if (landing_fits(&r, errors[i].mode, errors[i].width_hz,
				 FREQ_HZ(errors[i].error_hz), &why) != errors[i].fits)
			fail_msg("%s", errors[i].why);
	}
}

/* ICAO Annex 10 Vol. V table 4-1(bis), from memory; the rule that makes the names
 * is computed. */
static void designators(void **state)
{
	static const struct { const char *frequency, *name; } rows[] = {
		{ "118.0 MHz", "118.005" }, { "354025000/3 Hz", "118.010" }, { "354050000/3 Hz", "118.015" },
		{ "118.025 MHz", "118.030" }, { "363925000/3 Hz", "121.310" }, { "382925000/3 Hz", "127.640" },
		{ "410975000/3 Hz", "136.990" }, { "118.0125 MHz", NULL },
	};
	char got[16];

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct freq f;
		assert_int_equal(freq_parse(rows[i].frequency, &f), 0);
		assert_int_equal(landing_designator(f, got), rows[i].name != NULL);
		if (rows[i].name)
			assert_string_equal(got, rows[i].name);
	}
}

/* 47 CFR 22.905, from memory. */
static void cellular_edges(void **state)
{
	static const struct { const char *why; int32_t low, high; bool never; } rows[] = {
		{ "below", 800000, 824000, false }, { "touches", 800000, 824001, true },
		{ "inside", 830000, 831000, true }, { "between the two", 849000, 869000, false },
		{ "over both", 806000, 960000, true }, { "above", 894000, 900000, false },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		if (landing_forbidden(FREQ_KHZ(rows[i].low), FREQ_KHZ(rows[i].high)) !=
		    rows[i].never)
			fail_msg("%s", rows[i].why);
}

/* Common practice, computed. */
static void scan_arithmetic(void **state)
{
	(void)state;
	assert_true(fabs(scan_cycle_s(400, 25) - 16) < 1e-9);
	assert_true(fabs(scan_cycle_s(40, 25) - 1.6) < 1e-9);
	assert_true(fabs(scan_cycle_s(400, 13) - 30.77) < 0.01);
	assert_int_equal(scan_steps(FREQ_KHZ(144000), FREQ_KHZ(146000), FREQ_HZ(5000)), 401);
	assert_true(fabs(scan_sweep_s(FREQ_KHZ(144000), FREQ_KHZ(146000), FREQ_HZ(5000), 25) -
			 16.04) < 1e-9);
	assert_int_equal(scan_steps(FREQ_KHZ(118000), FREQ_KHZ(137000), FREQ_HZ(12500)), 1521);
	assert_int_equal(scan_steps(FREQ_KHZ(118000), FREQ_KHZ(137000), FREQ_HZ(50000)), 381);
	/* Overs of 4 s on average: 82 % at 1.6 s, 24.5 % at 16 s. */
	assert_true(fabs(scan_catch(4, 1.6) - 0.8242) < 1e-3);
	assert_true(fabs(scan_catch(4, 16) - 0.2454) < 1e-3);
	assert_true(scan_catch(4, 0) == 1 && scan_catch(0, 4) == 0);
}

static void words(void **state)
{
	char out[160];
	char f[FREQ_TEXT];

	(void)state;
	assert_string_equal(words_hours(0xffffff, out, sizeof out), "all hours");
	assert_string_equal(words_hours(1u << 22 | 1u << 23 | 1u << 0 | 1u << 7, out, sizeof out),
			    "07-08 h, 22-01 h");
	assert_string_equal(words_hours(0, out, sizeof out), "no hour");
	assert_string_equal(words_typed(FREQ_HZ(156800000), f), "156.8");
	assert_string_equal(words_typed(FREQ_HZ(460000000), f), "460");
	assert_string_equal(words_display(FREQ_HZ(460137500), 4, f), "460.1375");
	assert_string_equal(words_display(FREQ_HZ(446006250), 4, f), "446.0062");
	assert_string_equal(words_time(out, NIGHT_US), "2026-01-01T00:00:00Z");
}

static const struct {
	const char *why;
	struct channel heard;
	const char *want;
} evidence[] = {
	{ "plain",
	  { .overs = 37, .first_us = NIGHT_US + 100 * 60000000LL, .last_us = NIGHT_US + 3 * HOUR_US,
	    .level_db = 24, .occupancy = 0.1 }, "37 overs, 01:40-03:00, median 24 dB" },
	{ "one over, faint, with a tone",
	  { .overs = 1, .first_us = NIGHT_US, .last_us = NIGHT_US + 5000000, .level_db = 7.4,
	    .nature = { .users = { 3, 1, { { 1000, 0, 3 } } }, .believed = 1 }, .occupancy = 0.1 },
	  "1 over, 00:00-00:00, median 7 dB: faint, tone 100.0" },
	{ "8 dB are not faint",
	  { .overs = 2, .first_us = NIGHT_US, .last_us = NIGHT_US, .level_db = 8 },
	  "2 overs, 00:00-00:00, median 8 dB" },
	{ "more than a day: the hours",
	  { .overs = 9, .first_us = NIGHT_US, .last_us = NIGHT_US + 30 * HOUR_US, .hours = 1u << 5,
	    .level_db = 20 }, "9 overs, 05-06 h, median 20 dB" },
	{ "always on: its overs are only how it was looked at",
	  { .overs = 430, .looks = { .looks = 1290 }, .level_db = 40, .occupancy = 1 },
	  "always on: 1290 looks over 12 h, median 40 dB" },
	{ "an over that never ended",
	  { .looks = { .looks = 100, .busy = 60 }, .occupancy = 0.6 }, "busy in 60 of 100 looks" },
};

static void evidence_in_words(void **state)
{
	const struct census night = { .wall_us = 12 * HOUR_US - 48000000 };

	(void)state;
	for (size_t i = 0; i < sizeof evidence / sizeof evidence[0]; i++) {
		char got[160];
		words_evidence(&night, &evidence[i].heard, got, sizeof got);
		if (strcmp(got, evidence[i].want) != 0)
			fail_msg("%s: \"%s\"", evidence[i].why, got);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(step_by_raster),
		cmocka_unit_test(lands),
		cmocka_unit_test(error_limits),
		cmocka_unit_test(designators),
		cmocka_unit_test(cellular_edges),
		cmocka_unit_test(scan_arithmetic),
		cmocka_unit_test(words),
		cmocka_unit_test(evidence_in_words),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
