/* What an emulated dongle hears of a town: at which frequency, how strong, and what
 * it adds of its own. */
#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <string.h>

#include "tests/dongle/bench.h"

#define COUNT(list) (sizeof (list) / sizeof (list)[0])
#define PAIRS       65536
#define ABSENT_DBFS -75.0

static struct scenario lines(double ppm)
{
	struct scenario s = scenario_usual();

	snprintf(s.town, sizeof s.town, "%s/tests/data/dongle-air.conf", SOURCE_ROOT);
	s.dongles[0].ppm = ppm;
	s.speed = 0.5;          /* a busy or sanitized machine makes too few samples else */
	return s;
}

/* Ready and reading at a centre; what is kept then is all of it. */
static void open_at(struct bench *b, const struct scenario *s, uint32_t hz)
{
	bench_open(b, s, 0);
	bench_set(b);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, hz), 0);
	bench_read(b, 15, 16384);
	assert_true(scene_reaches(&b->calls, 1, BENCH_PATIENCE_S));
	bench_catch_up(b);
}

/* Samples without a hole: a busy machine may come late and lose some. */
static void keep(struct bench *b)
{
	for (int i = 0; i < 5; i++) {
		bench_catch_up(b);
		int64_t lost = b->device->count.lost_bytes;
		bench_keep(b, 2 * PAIRS);
		bench_kept(b);
		if (b->device->count.lost_bytes == lost)
			return;
	}
}

/* A line's level in dB of full scale through a Hann window, by one term of a DFT. */
static double level_at(const uint8_t *bytes, int n, double cycles)
{
	double complex sum = 0, turn = 1, step = cexp(-2 * M_PI * I * cycles);
	double weight = 0;

	for (int i = 0; i < n; i++) {
		double w = 0.5 - 0.5 * cos(2 * M_PI * i / n);
		sum += w * turn * (bytes[2 * i] - 127.5 + I * (bytes[2 * i + 1] - 127.5));
		turn *= step;
		weight += w;
	}
	return 20 * log10(cabs(sum) / weight / 127.5 + 1e-12);
}

static double dbfs(const struct bench *b, double offset_hz)
{
	return level_at(b->kept, PAIRS, offset_hz / b->device->now.rate_hz);
}

/* Where near `offset_hz` the line stands, as the window counts: to 0.5 Hz. */
static double line_hz(const struct bench *b, double offset_hz)
{
	double best = offset_hz, reach = 300;

	for (double step = 20; step > 0.2; reach = step, step /= 6) {
		double middle = best, most = -INFINITY;
		for (double hz = middle - reach; hz <= middle + reach; hz += step)
			if (dbfs(b, hz) > most) {
				most = dbfs(b, hz);
				best = hz;
			}
	}
	return best;
}

/* ---- frequencies ---- */

static const struct {
	const char *why;
	double      ppm;
	uint32_t    centre;
	double      line_hz;
	bool        internal;
} seen[] = {
	{ "a faultless crystal", 0, 155000000, 155.3e6, false },
	{ "a fast one: tuner and samples are off alike", 40, 155000000, 155.3e6, false },
	{ "from another centre", 40, 155437000, 155.3e6, false },
	{ "a slow one", -40, 155000000, 155.3e6, false },
	{ "its own harmonic counts by the crystal", 40, 144200000, 144e6, true },
};

static void lines_stand_where_the_registers_say(void **state)
{
	for (size_t i = 0; i < COUNT(seen); i++) {
		struct scenario s = lines(seen[i].ppm);
		struct bench *b = *state;

		open_at(b, &s, seen[i].centre);
		keep(b);
		double crystal = 1 + seen[i].ppm * 1e-6;
		double line = seen[i].internal ? seen[i].line_hz * crystal : seen[i].line_hz;
		double offset = (line - state_true_centre_hz(b->scene.state, 0)) / crystal;
		double found = line_hz(b, offset);
		if (fabs(found - offset) > 1)
			fail_msg("%s: at %+.1f Hz, must be %+.1f Hz", seen[i].why, found, offset);
		bench_stop(b);
		bench_close(b);
	}
}

/* 9 to 2 ppm within four minutes, e times less in each. */
static void the_crystal_warms_up(void **state)
{
	struct scenario s = lines(31);
	struct bench *b = *state;

	s.dongles[0].cold_ppm = 9;
	s.dongles[0].warm_ppm = 2;
	s.dongles[0].warm_up_s = 240;
	open_at(b, &s, 155000000);
	keep(b);
	double offset = 155.3e6 / (1 + 40e-6) - (b->device->now.lo_hz - b->device->now.if_hz);
	double cold = line_hz(b, offset);
	state_leap_to(b->scene.state, state_now_us(b->scene.state) + 240000000);
	keep(b);
	double warm = line_hz(b, offset + 7e-6 * 155e6);
	double moved = (warm - cold) / 155.3;
	/* All but exp(-4) of 7 ppm, less what was gone when the test had begun. */
	if (cold < offset - 20 || moved > 7 || moved + (cold - offset) / 155.3 < 6.8)
		fail_msg("cold %+.1f Hz off, then %.2f ppm less", cold - offset, moved);
	bench_stop(b);
	bench_close(b);
}

/* ---- of its own making ---- */

static void mirrors_about_the_centre(void **state)
{
	struct scenario s = lines(0);
	struct bench *b = *state;

	open_at(b, &s, 155000000);
	keep(b);
	double offset = 155.3e6 - state_true_centre_hz(b->scene.state, 0);
	double down = dbfs(b, offset) - dbfs(b, -offset);
	assert_true(down > 40 && down < 50);
	bench_stop(b);
	bench_close(b);
}

static void a_spur_keeps_its_offset(void **state)
{
	struct scenario s = lines(40);
	struct bench *b = *state;

	s.spur_hz = 412345;
	s.spur_dbfs = -50;
	open_at(b, &s, 151000000);
	for (int k = 0; k < 2; k++) {
		uint32_t hz = 151000000 + 137000 * (uint32_t)k;
		assert_int_equal(rtlsdr_set_center_freq(b->dev, hz), 0);
		keep(b);
		double at = line_hz(b, 412345), level = dbfs(b, 412345);
		if (fabs(at - 412345) > 1 || fabs(level + 50) > 1)
			fail_msg("at %.1f Hz with %.1f dBFS", at, level);
	}
	bench_stop(b);
	bench_close(b);
}

static const struct {
	const char *why;
	double      image_db;
	uint32_t    centre;
	double      shift_hz;           /* against where it comes in at 155.0 MHz */
} images[] = {
	{ "no image", 0, 155000000, 0 },
	{ "40 dB down", 40, 155000000, 0 },
	{ "25 dB down", 25, 155000000, 0 },
	{ "the centre up, and it goes up twice as far less once", 25, 155010000, 10000 },
};

/* What is twice the IF above: 2 * (centre + IF) - 158.83 MHz. */
static void the_image_is_twice_the_if_above(void **state)
{
	for (size_t i = 0; i < COUNT(images); i++) {
		struct scenario s = lines(0);
		struct bench *b = *state;

		s.image_db = images[i].image_db;
		open_at(b, &s, images[i].centre);
		keep(b);
		const struct reception *r = &b->device->now;
		double offset = 2 * r->lo_hz - 158.83e6 - (r->lo_hz - r->if_hz);
		/* 10 dB stronger than the line in sight. */
		double line = dbfs(b, 155.3e6 - state_true_centre_hz(b->scene.state, 0));
		double found = images[i].image_db > 0 ? line_hz(b, offset) : offset;
		double level = dbfs(b, found), wanted = line + 10 - images[i].image_db;
		bool well = images[i].image_db > 0 ? fabs(level - wanted) < 1 : level < ABSENT_DBFS;
		if (!well || fabs(found - offset) > 1 ||
		    fabs(offset + 200000 - images[i].shift_hz) > 400)
			fail_msg("%s: %.1f dBFS at %+.1f Hz", images[i].why, level, found);
		bench_stop(b);
		bench_close(b);
	}
}

/* 2 * left - right, 3 dB for each dB of gain; without the bend there is none. */
static void third_order_products_rise_threefold(void **state)
{
	struct scenario s = lines(0);
	double product[2], parent[2];
	struct bench *b = *state;

	s.third_dbfs = 6;
	open_at(b, &s, 166100000);
	for (int k = 0; k < 2; k++) {
		rtlsdr_set_tuner_gain(b->dev, k == 0 ? 254 : 297);
		keep(b);
		double centre = state_true_centre_hz(b->scene.state, 0);
		parent[k] = dbfs(b, 165.9e6 - centre);
		product[k] = dbfs(b, 165.8e6 - centre);
	}
	if (fabs(parent[1] - parent[0] - 4.3) > 0.4 ||
	    fabs(product[1] - product[0] - 3 * 4.3) > 1 ||
	    fabs(product[0] - (3 * parent[0] - 2 * s.third_dbfs)) > 1.5)
		fail_msg("parents %.1f and %.1f, products %.1f and %.1f dBFS", parent[0], parent[1],
			 product[0], product[1]);
	bench_stop(b);
	bench_close(b);
}

/* ---- moments ---- */

static void without_lock_it_is_deaf(void **state)
{
	struct scenario s = lines(0);
	struct mischief *m = scenario_mischief(&s, MISCHIEF_UNLOCKED);
	struct bench *b = *state;

	m->low_mhz = 150;
	m->high_mhz = 160;
	open_at(b, &s, 155000000);
	keep(b);
	assert_true(dbfs(b, 155.3e6 - state_true_centre_hz(b->scene.state, 0)) < ABSENT_DBFS);
	bench_stop(b);
	bench_close(b);
}

/* For a while after a retune it hears what is 300 kHz further up. */
static void the_synthesiser_settles(void **state)
{
	struct scenario s = lines(0);
	struct bench *b = *state;

	s.settle_us = 20000;
	open_at(b, &s, 165000000);
	bench_keep(b, 4000000);
	assert_int_equal(rtlsdr_set_center_freq(b->dev, 155000000), 0);
	int64_t tuned_us = state_now_us(b->scene.state);
	bench_kept(b);
	bench_stop(b);
	double offset = 155.3e6 - state_true_centre_hz(b->scene.state, 0);
	int64_t at = 2 * llround((double)(tuned_us - b->kept_us) * 2.4);
	assert_in_range(at, 0, 4000000 - 200000);
	/* In samples: 3 to 13 ms after the call, then 25 to 35 ms. */
	double early = level_at(b->kept + at + 2 * 7200, 24000, offset / 2.4e6);
	double elsewhere = level_at(b->kept + at + 2 * 7200, 24000, (offset - 300e3) / 2.4e6);
	double late = level_at(b->kept + at + 2 * 60000, 24000, offset / 2.4e6);
	if (early > -50 || elsewhere < -25 || late < -25)
		fail_msg("%.1f dBFS, %.1f elsewhere, later %.1f", early, elsewhere, late);
	bench_close(b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		bench_test(lines_stand_where_the_registers_say),
		bench_test(the_crystal_warms_up),
		bench_test(mirrors_about_the_centre),
		bench_test(a_spur_keeps_its_offset),
		bench_test(the_image_is_twice_the_if_above),
		bench_test(third_order_products_rise_threefold),
		bench_test(without_lock_it_is_deaf),
		bench_test(the_synthesiser_settles),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
