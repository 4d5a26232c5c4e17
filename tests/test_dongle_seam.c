/* The emulated dongle under the real dongle library: what the library asks for, and
 * what it makes of the answers, is as it is known of real ones. Where a number has
 * no other source it was read off Debian's librtlsdr 0.6.0-4 at its USB calls. */
#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "tests/dongle/bench.h"

#define COUNT(list) (sizeof (list) / sizeof (list)[0])

static void says_who_it_is(void **state)
{
	struct scenario s = scenario_usual();
	char maker[256], product[256], serial[256];
	struct bench *b = *state;

	scenario_dongle(&s, "roof");
	bench_open(b, &s, 0);
	assert_int_equal(rtlsdr_get_device_count(), 2);
	assert_int_equal(rtlsdr_get_device_usb_strings(1, maker, product, serial), 0);
	assert_string_equal(serial, "roof");
	assert_int_equal(rtlsdr_get_index_by_serial("roof"), 1);
	assert_int_equal(rtlsdr_get_index_by_serial("cellar"), -3);
	assert_int_equal(rtlsdr_get_tuner_type(b->dev), RTLSDR_TUNER_R820T);
	assert_int_equal(rtlsdr_get_tuner_gains(b->dev, NULL), 29);
	bench_close(b);
}

/* ---- transfers ---- */

static int set_ppm(rtlsdr_dev_t *dev, int ppm)
{
	return rtlsdr_set_freq_correction(dev, ppm);
}

static int set_rate(rtlsdr_dev_t *dev, int hz)
{
	return rtlsdr_set_sample_rate(dev, (uint32_t)hz);
}

static int set_centre(rtlsdr_dev_t *dev, int hz)
{
	return rtlsdr_set_center_freq(dev, (uint32_t)hz);
}

static int set_width(rtlsdr_dev_t *dev, int hz)
{
	return rtlsdr_set_tuner_bandwidth(dev, (uint32_t)hz);
}

static int flush(rtlsdr_dev_t *dev, int unused)
{
	(void)unused;
	return rtlsdr_reset_buffer(dev);
}

static const struct {
	const char *call;
	int       (*make)(rtlsdr_dev_t *, int);
	int         value, result;
	int64_t     least, most, i2c_least, i2c_most;
} calls[] = {
	{ "ppm that is set already: refused without a transfer", set_ppm, 0, -2, 0, 0, 0, 0 },
	{ "rate", set_rate, 2400000, 0, 47, 49, 21, 23 },
	{ "rate again", set_rate, 2048000, 0, 47, 49, 21, 23 },
	{ "manual gain", rtlsdr_set_tuner_gain_mode, 1, 0, 11, 11, 7, 7 },
	{ "gain", rtlsdr_set_tuner_gain, 297, 0, 11, 11, 7, 7 },
	{ "AGC", rtlsdr_set_agc_mode, 0, 0, 2, 2, 0, 0 },
	{ "bias tee", rtlsdr_set_bias_tee, 1, 0, 6, 6, 0, 0 },
	{ "centre", set_centre, 155000000, 0, 23, 23, 19, 19 },
	{ "ppm, which tunes again", set_ppm, 31, 0, 27, 27, 19, 19 },
	{ "width, which tunes again", set_width, 1200000, 0, 35, 35, 21, 21 },
	{ "flush", flush, 0, 0, 2, 2, 0, 0 },
};

static void calls_make_so_many_transfers(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	assert_int_equal(b->device->count.controls, 161);
	assert_int_equal(b->device->count.i2c, 61);
	for (size_t i = 0; i < COUNT(calls); i++) {
		struct transfers before = bench_transfers(b);
		int r = calls[i].make(b->dev, calls[i].value);
		struct transfers now = bench_transfers(b);
		int64_t all = now.all - before.all, i2c = now.i2c - before.i2c;
		if (r != calls[i].result || all < calls[i].least || all > calls[i].most ||
		    i2c < calls[i].i2c_least || i2c > calls[i].i2c_most)
			fail_msg("%s: returns %d after %lld transfers, %lld of them I2C",
				 calls[i].call, r, (long long)all, (long long)i2c);
	}
	bench_close(b);
}

/* The bias tee stays as it was left, also once nobody has it open. */
static void the_bias_tee_stays_on(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	assert_false(chip_bias_tee(&b->device->chip));
	assert_int_equal(rtlsdr_set_bias_tee(b->dev, 1), 0);
	rtlsdr_close(b->dev);
	assert_true(chip_bias_tee(&b->device->chip));
	assert_int_equal(rtlsdr_open(&b->dev, 0), 0);
	assert_int_equal(rtlsdr_set_bias_tee(b->dev, 0), 0);
	assert_false(chip_bias_tee(&b->device->chip));
	bench_close(b);
}

/* ---- rates ---- */

static const struct {
	const char *why;
	uint32_t    asked;
	int         result;
	double      rate_hz, if_hz;     /* as a faultless crystal would have them */
} rates[] = {
	{ "exact, and its filter's IF", 2400000, 0, 2400000, 1.815e6 },
	{ "exact", 2048000, 0, 2048000, 1.625e6 },
	{ "exact", 1024000, 0, 1024000, 1.70e6 },
	{ "exact", 1440000, 0, 1440000, 1.575e6 },
	{ "exact", 1600000, 0, 1600000, 1.50e6 },
	{ "exact", 1800000, 0, 1800000, 1.75e6 },
	{ "past the filters the IF is another", 2560000, 0, 2560000, 3.57e6 },
	{ "exact", 240000, 0, 240000, 2.125e6 },
	{ "not exact", 250000, 0, 250000.0004, 2.125e6 },
	{ "not exact", 1000000, 0, 1000000.026, 1.70e6 },
	{ "not exact", 2000000, 0, 2000000.053, 1.625e6 },
	{ "the highest", 3200000, 0, 3200000, 3.57e6 },
	{ "too low: the last stays", 225000, -22, 3200000, 3.57e6 },
	{ "in the hole: the last stays", 300001, -22, 3200000, 3.57e6 },
	{ "too high: the last stays", 3200001, -22, 3200000, 3.57e6 },
};

static void rates_come_out_as_known(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	for (size_t i = 0; i < COUNT(rates); i++) {
		int r = rtlsdr_set_sample_rate(b->dev, rates[i].asked);
		const struct reception *now = &b->device->now;
		if (r != rates[i].result || fabs(now->rate_hz - rates[i].rate_hz) > 0.001 ||
		    fabs(now->if_hz - rates[i].if_hz) > 10)
			fail_msg("%s: %u returns %d, runs at %.4f with an IF of %.0f", rates[i].why,
				 rates[i].asked, r, now->rate_hz, now->if_hz);
	}
	bench_close(b);
}

/* The trim takes the crystal's error off rate and centre alike. */
static void ppm_trims_rate_and_centre(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	s.dongles[0].ppm = 40;
	bench_open(b, &s, 0);
	assert_int_equal(rtlsdr_set_freq_correction(b->dev, 40), 0);
	assert_int_equal(rtlsdr_set_sample_rate(b->dev, 2400000), 0);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 155000000), 0);
	double rate = b->device->now.rate_hz * (1 + 40e-6);
	double centre = state_true_centre_hz(b->scene.state, 0);
	if (fabs(rate - 2400000) > 0.2 || fabs(centre - 155000000) > 128)
		fail_msg("truly %.2f S/s at %.1f Hz", rate, centre);
	bench_close(b);
}

/* ---- where it lands ---- */

static const struct {
	double low_mhz, high_mhz, mean_hz, rms_hz, worst_hz;
} landings[] = {
	{ 60, 110, -6, 23, 106 }, { 110, 220, -16, 46, 128 }, { 220, 440, -34, 99, 216 },
	{ 440, 880, -56, 184, 436 }, { 880, 1760, -136, 385, 875 },
};

/* Known of all centres on a 2.5 kHz raster; here 400 of them in each stretch. */
static void lands_beside_what_was_asked(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	rtlsdr_set_sample_rate(b->dev, 2400000);
	for (size_t i = 0; i < COUNT(landings); i++) {
		double sum = 0, squares = 0, worst = 0, low = landings[i].low_mhz;
		double steps = (landings[i].high_mhz - low) * 400;
		for (int k = 0; k < 400; k++) {
			double hz = low * 1e6 + 2500 * floor(steps * (k + 0.382) / 400);
			assert_int_equal(rtlsdr_set_center_freq(b->dev, (uint32_t)hz), 0);
			double off = state_true_centre_hz(b->scene.state, 0) - hz;
			sum += off;
			squares += off * off;
			worst = fmax(worst, fabs(off));
		}
		double mean = sum / 400, rms = sqrt(squares / 400), known = landings[i].rms_hz;
		/* Four standard errors of a mean of 400; of an rms about the same. */
		if (fabs(mean - landings[i].mean_hz) > 0.2 * known + 2 ||
		    fabs(rms - known) > 0.2 * known || worst > 1.05 * landings[i].worst_hz)
			fail_msg("%g-%g MHz: mean %.0f rms %.0f worst %.0f Hz", low,
				 landings[i].high_mhz, mean, rms, worst);
	}
	bench_close(b);
}

static const struct {
	const char *why;
	uint32_t    asked;
	int         result;
	double      lands_mhz;          /* 0: not looked at */
	bool        locked;
} ends[] = {
	{ "the lowest that is had", 25900000, 0, 25.9, true },
	{ "below the divider's range: elsewhere, without a word", 24000000, 0, 1650, true },
	{ "far below, the same", 15000000, 0, 1074, true },
	{ "the highest", 1766000000, 0, 1766, true },
	{ "above it is refused", 1770000000, -1, 0, false },
	{ "but further up it is not, and does not lock", 1850000000, 0, 0, false },
};

static void the_ends_of_the_range_are_traps(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;

	bench_open(b, &s, 0);
	rtlsdr_set_sample_rate(b->dev, 2400000);
	for (size_t i = 0; i < COUNT(ends); i++) {
		int r = rtlsdr_set_center_freq(b->dev, ends[i].asked);
		double at = state_true_centre_hz(b->scene.state, 0) * 1e-6;
		bool locked = b->device->now.locked;
		bool there = ends[i].lands_mhz == 0 || fabs(at - ends[i].lands_mhz) < 1;
		if (r != ends[i].result || !there || (r == 0 && locked != ends[i].locked))
			fail_msg("%s: %u returns %d, is at %.3f MHz, %slocked", ends[i].why,
				 ends[i].asked, r, at, locked ? "" : "un");
	}
	bench_close(b);
}

static void a_failed_lock_is_not_told(void **state)
{
	struct scenario s = scenario_usual();
	struct mischief *m = scenario_mischief(&s, MISCHIEF_UNLOCKED);
	struct bench *b = *state;

	m->low_mhz = 400;
	m->high_mhz = 500;
	bench_open(b, &s, 0);
	rtlsdr_set_sample_rate(b->dev, 2400000);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 155000000), 0);
	assert_true(b->device->now.locked);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 450000000), 0);
	assert_false(b->device->now.locked);
	assert_int_equal(rtlsdr_get_center_freq(b->dev), 450000000);
	bench_close(b);
}

/* ---- gain ---- */

/* The library climbs until the sum reaches what was asked for: its own list is
 * those sums. */
static void gains_are_what_the_list_says(void **state)
{
	struct scenario s = scenario_usual();
	struct bench *b = *state;
	int gains[64];

	bench_open(b, &s, 0);
	int n = rtlsdr_get_tuner_gains(b->dev, gains);
	assert_int_equal(rtlsdr_set_tuner_gain_mode(b->dev, 1), 0);
	assert_true(fabs(b->device->now.gain_db) < 0.05);        /* also sets 0 dB */
	for (int i = 0; i < n; i++) {
		assert_int_equal(rtlsdr_set_tuner_gain(b->dev, gains[i]), 0);
		if (fabs(b->device->now.gain_db - gains[i] / 10.0) > 0.05)
			fail_msg("%d: is %.1f dB", gains[i], b->device->now.gain_db);
	}
	bench_close(b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		bench_test(says_who_it_is),
		bench_test(calls_make_so_many_transfers),
		bench_test(the_bias_tee_stays_on),
		bench_test(rates_come_out_as_known),
		bench_test(ppm_trims_rate_and_centre),
		bench_test(lands_beside_what_was_asked),
		bench_test(the_ends_of_the_range_are_traps),
		bench_test(a_failed_lock_is_not_told),
		bench_test(gains_are_what_the_list_says),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
