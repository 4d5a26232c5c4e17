#include "tests/test.h"

#include <math.h>

#include "dsp/chance.h"
#include "dsp/sighting.h"
#include "dsp/window.h"
#include "tests/painted.h"

#define PARTS 4
#define AT    345               /* a bin: 131.25 kHz over the tuner's centre; six about its */
#define WIDE  7500.0            /* middle are asked for, 342.5 to 348.5                     */
#define AT_HZ ((AT - PAINTED_BINS / 2) * 1250.0)

struct part {
	int    first, last;
	double ratio;
};

static struct sighting take(struct painted *p, double off_hz, double wide_hz)
{
	painted_done(p);
	return sighting_take(&p->look, p->window, PAINTED_BINS / 2, 150e6 + off_hz, wide_hz);
}

static void paint_parts(struct painted *p, const struct part *part)
{
	painted_clear(p);
	for (int i = 0; i < PARTS && part[i].last > 0; i++)
		paint(p, part[i].first, part[i].last, 0, PAINTED_SLICES - 1, part[i].ratio);
}

/* The noise is read off what lies beside, as the quartile of what scatters. Even noise has none:
 * it is taken for so many times as much. */
static double taken_for(const struct painted *p)
{
	double nu = window_freedom(p->window, PAINTED_BINS, PAINTED_BINS / 2, p->look.transforms, 0, 1);
	return 1 / chance_quantile(nu, 0.25);
}

/* Where it is: as a whole, or its line when it is nearly all of it. */
static const struct {
	const char *why;
	struct part part[PARTS];
	bool        seen;
	double      at;                 /* bins from AT's middle                    */
	double      line;
	double      power;              /* in noise powers of a bin, between the two */
} rows[] = {
	{ "nothing", { { 0, 0, 0 } }, false, 0, 0, 0 },
	{ "a line", { { 344, 344, 10 }, { 345, 345, 100 }, { 346, 346, 10 } }, true, 0, 1, 120 },
	{ "a line between two bins", { { 345, 346, 100 } }, true, 0.5, 1, 200 },
	{ "a line, a bin up", { { 346, 346, 100 } }, true, 1, 1, 100 },
	{ "a line at the lower end", { { 340, 344, 100 } }, true, -3, 1, 250 },
	{ "a line at the upper end", { { 347, 351, 100 } }, true, 3, 1, 150 },
	{ "even over all of it", { { 342, 348, 100 } }, true, 0, 0.43, 600 },
	{ "more of it above", { { 343, 345, 100 }, { 346, 348, 200 } }, true, 1.375, 0.89, 800 },
	{ "half of what lies beside is busy", { { 345, 345, 100 }, { 306, 337, 1e4 }, { 353, 367, 1e4 } }, true, 0,
	  1, 100 },
	{ "more than three quarters are", { { 345, 345, 100 }, { 306, 337, 1e4 }, { 353, 368, 1e4 } }, false, 0, 0, 0 },
	{ "what lies farther does not matter", { { 345, 345, 100 }, { 50, 305, 1e4 }, { 385, 470, 1e4 } }, true, 0,
	  1, 100 },
	{ "nor its own skirts", { { 345, 345, 1e4 }, { 338, 341, 1e3 }, { 349, 352, 1e3 } }, true, 0, 1, 1e4 },
};

static void where_and_how_strong(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		paint_parts(&p, rows[i].part);
		struct sighting s = take(&p, AT_HZ, WIDE);
		double at = (s.hz - 150e6 - AT_HZ) / 1250, noise = 6 * taken_for(&p);
		double power = pow(10, s.power_db / 10) / PAINTED_NOISE;
		if (!s.tried || s.seen != rows[i].seen)
			fail_msg("%s: tried %d, seen %d", rows[i].why, s.tried, s.seen);
		if (!s.seen)
			continue;
		if (!(fabs(at - rows[i].at) < 0.02) || !(fabs(s.line - rows[i].line) < 0.02))
			fail_msg("%s: at %+.3f bins, %.3f of it in a line", rows[i].why, at, s.line);
		/* Of the noise as much as it is taken for is taken off. */
		double want = rows[i].power + 6 - noise;
		if (!(fabs(power / want - 1) < 0.01) || !(fabs(s.over_db - 10 * log10(want / noise)) < 0.05))
			fail_msg("%s: power %.2f, want %.2f; %.2f dB over", rows[i].why, power, want, s.over_db);
	}
	painted_close(&p);
}

/* 1.5 dB over what the noise is taken for it is seen; else it says what could hide: three
 * deviations of the noise, and twice the doubt about its level, 0.3 dB. */
static void what_is_seen_and_what_could_hide(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	double nu = window_freedom(p.window, PAINTED_BINS, PAINTED_BINS / 2, p.look.transforms, 0.5, 6);
	for (int i = 0; i < 2; i++) {
		paint_parts(&p, (struct part[PARTS]){ { 342, 348, ratio_of(i ? 1.55 : 1.45) * taken_for(&p) - 1 } });
		assert_int_equal(take(&p, AT_HZ, WIDE).seen, i);
	}
	painted_clear(&p);
	struct sighting s = take(&p, AT_HZ, WIDE);
	assert_false(s.seen);
	/* nu is 144.4: 0.250 and 0.143. */
	assert_true(fabs(nu - 144.4) < 0.1);
	if (!(fabs(s.over_db - 10 * log10(3 / sqrt(nu) + 2 * (ratio_of(0.3) - 1))) < 0.01))
		fail_msg("up to %.2f dB could hide", s.over_db);
	/* A strong one is as sure as gain is, to 0.3 dB and what the degrees leave of the noise. */
	paint_parts(&p, (struct part[PARTS]){ { 345, 345, 6e5 } });
	s = take(&p, AT_HZ, WIDE);
	assert_true(fabs(s.sigma_db - 0.3) < 0.01);
	paint_parts(&p, (struct part[PARTS]){ { 345, 345, 6 } });
	s = take(&p, AT_HZ, WIDE);
	double over = ratio_of(s.over_db), doubt = ratio_of(0.3) - 1;
	double spread = sqrt((2 * over + 1) / nu + doubt * doubt) / over;
	assert_true(fabs(s.sigma_db - hypot(0.3, 10 / M_LN10 * spread)) < 0.01);
	/* Spoilt slices leave less to go by. */
	for (int k = 0; k < 9; k++)
		p.look.spoilt[k] = k < 6;
	assert_true(take(&p, AT_HZ, WIDE).sigma_db > s.sigma_db + 0.1);
	painted_close(&p);
}

static void where_a_look_tells_nothing(void **state)
{
	static const struct {
		const char *why;
		double      off_hz, wide_hz;
		bool        tried;
	} places[] = {
		{ "its end within 0.49 of the rate",  290200,  7500,  true },
		{ "its end beyond",                   290300,  7500,  false },
		{ "below",                            -290200, 7500,  true },
		{ "below, beyond",                    -290300, 7500,  false },
		{ "the centre is made up",            8700,    7500,  false },
		{ "beside that",                      8800,    7500,  true },
		{ "below it",                         -8800,   7500,  true },
		{ "a wide one comes nearer",          14900,   60000, false },
		{ "but not much",                     15100,   60000, true },
	};
	struct painted p;
	(void)state;

	painted_open(&p);
	for (size_t i = 0; i < sizeof places / sizeof places[0]; i++)
		if (take(&p, places[i].off_hz, places[i].wide_hz).tried != places[i].tried)
			fail_msg("%s", places[i].why);
	p.look.clipped = 0.0009;
	assert_true(take(&p, AT_HZ, WIDE).tried);
	p.look.clipped = 0.0011;
	assert_false(take(&p, AT_HZ, WIDE).tried);
	painted_close(&p);
}

/* Of a wide one a quarter of its width is its skirts, and noise is read twice its width away. */
static void a_wide_one_is_given_room(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	/* 24 bins, 333.5 to 357.5: noise is read in 279 .. 326 and 364 .. 411. 26 of those are quiet,
	 * hardly more than a quarter; two bins nearer or farther on either side it is fewer. */
	paint_parts(&p, (struct part[PARTS]){ { 345, 345, 1e4 }, { 281, 328, 1e5 }, { 362, 387, 1e5 } });
	struct sighting s = take(&p, AT_HZ, 30000);
	assert_true(s.tried && s.seen);
	assert_true(fabs(pow(10, s.power_db / 10) / PAINTED_NOISE / 1e4 - 1) < 0.01);
	painted_close(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(where_and_how_strong),
		cmocka_unit_test(what_is_seen_and_what_could_hide),
		cmocka_unit_test(a_wide_one_is_given_room),
		cmocka_unit_test(where_a_look_tells_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
