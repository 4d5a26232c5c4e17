#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "daemon/calibrate/gain.h"
#include "daemon/gain_steps.h"

#define STEPS 5
#define LOOKS 160

static const double gain_db[STEPS] = { 15.7, 22.9, 29.7, 36.4, 43.4 };

/* Noise that comes through the gain, in steps at 29.7 dB, beside the converter's own. */
static const struct {
	const char     *why;
	double          outside_lsb, own_lsb;
	double          clipped[STEPS];
	enum gain_limit limit;
	double          gain_db, slack_db;
} places[] = {
	/* 6 dB over its own: 29.7 + 20 log10(own / outside) + 6; 0.7 steps in all:
	 * 29.7 + 10 log10((0.49 - own^2) / outside^2). */
	{ "a quiet place: its noise must rise over the converter's", 0.5, 0.4, { 0 },
	  GAIN_NOISE_BELOW, 29.7 + 20 * -0.09691 + 6, 0.1 },
	{ "a good converter still wants 0.7 steps of noise", 1.0, 0.2, { 0 },
	  GAIN_STEPS_BELOW, 29.7 + 10 * -0.34679, 0.1 },
	{ "a noisy place needs hardly any gain", 20, 0.3, { 0 }, GAIN_STEPS_BELOW, 15.7, 0.1 },
	{ "a deaf one wants more than was tried", 0.05, 0.3, { 0 }, GAIN_RANGE_ENDS, 43.4, 0.01 },
	{ "no gain beyond where it clips", 0.3, 0.4, { 0, 0, 0.1, 0.2, 0.4 }, GAIN_CLIPS_ABOVE, 22.9,
	  0.01 },
	{ "what clips at any gain does not count", 0.5, 0.4, { 0.05, 0.05, 0.055, 0.055, 0.055 },
	  GAIN_NOISE_BELOW, 29.7 + 20 * -0.09691 + 6, 0.1 },
	{ "a pager next door meets some steps more than others", 0.5, 0.4,
	  { 0.067, 0.1, 0.093, 0.087, 0.133 }, GAIN_NOISE_BELOW, 29.7 + 20 * -0.09691 + 6, 0.1 },
	{ "nothing comes through: the antenna is off", 0, 0.3, { 0 }, GAIN_RANGE_ENDS, 43.4, 0.01 },
};

static void advice(void **state)
{
	(void)state;
	for (size_t k = 0; k < sizeof places / sizeof places[0]; k++) {
		struct gain_step s[STEPS];
		for (int i = 0; i < STEPS; i++)
			s[i] = (struct gain_step){ gain_db[i],
				hypot(places[k].outside_lsb * pow(10, (gain_db[i] - 29.7) / 20),
				      places[k].own_lsb), places[k].clipped[i], LOOKS };
		struct gain_advice a = gain_advise(s, STEPS);
		if (a.limit != places[k].limit || fabs(a.gain_db - places[k].gain_db) > places[k].slack_db)
			fail_msg("%s: %.2f dB for reason %d, want %.2f for %d", places[k].why, a.gain_db,
				 a.limit, places[k].gain_db, places[k].limit);
		if (fabs(a.own_lsb - places[k].own_lsb) > 0.02)
			fail_msg("%s: converter's own is %.3f steps, want %g", places[k].why, a.own_lsb,
				 places[k].own_lsb);
	}
}

/* Figures of the first place, so that the table's reading is right. */
static void readings(void **state)
{
	struct gain_step s[STEPS];

	(void)state;
	for (int i = 0; i < STEPS; i++)
		s[i] = (struct gain_step){ gain_db[i], hypot(pow(10, (gain_db[i] - 29.7) / 20), 0.5), 0, LOOKS };
	struct gain_advice a = gain_advise(s, STEPS);
	assert_true(fabs(a.over_db[2] - 6.02) < 0.05);
	assert_true(a.rise[1] > 0.2 && a.rise[1] < 0.6);
	assert_true(a.rise[4] > 0.95 && a.rise[4] < 1.01);
	assert_true(fabs(gain_slope(1e-6, 1e-4, 10) - 2) < 1e-9);
}

/* The library's list for an R820T, as it answers (0.6.0). */
static const struct gain_steps r820t = { 29, {
	0, 9, 14, 27, 37, 77, 87, 125, 144, 157, 166, 197, 207, 229, 254, 280, 297, 328, 338, 364, 372,
	386, 402, 421, 434, 439, 445, 480, 496 } };

static const struct {
	const char *why;
	int         wanted, takes;
	const char *text;               /* NULL: nothing to tell */
} steps[] = {
	{ "one it has", 297, 297, NULL },
	{ "the least", 0, 0, NULL },
	{ "nearer to the one below", 300, 297, "gain is set to 30.0 dB, the tuner has 29.7 and 32.8 dB: takes 29.7 dB" },
	{ "nearer to the one above", 320, 328, "29.7 and 32.8 dB: takes 32.8 dB" },
	{ "half way goes down", 333, 328, "32.8 and 33.8 dB: takes 32.8 dB" },
	{ "above all", 600, 496, "the tuner has 0.0 to 49.6 dB: takes 49.6 dB" },
	{ "below all", -50, 0, "gain is set to -5.0 dB, the tuner has 0.0 to 49.6 dB: takes 0.0 dB" },
};

static void a_gain_it_does_not_have_is_rounded(void **state)
{
	const struct gain_steps any = { 0 }, wrong = { 2, { 9, 9 } }, many = { GAIN_STEPS_KNOWN + 1, { 0 } },
				low = { 2, { INT32_MIN, 9 } }, high = { 2, { 9, INT32_MAX } };
	char text[120];

	(void)state;
	assert_true(gain_steps_check(&r820t) && gain_steps_check(&any));
	assert_false(gain_steps_check(&wrong) || gain_steps_check(&many));
	assert_false(gain_steps_check(&low) || gain_steps_check(&high));
	assert_int_equal(gain_steps_nearest(&any, 333), 333);
	assert_false(gain_steps_tell(&any, 333, text, sizeof text));
	for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
		bool told = gain_steps_tell(&r820t, steps[i].wanted, text, sizeof text);
		if (gain_steps_nearest(&r820t, steps[i].wanted) != steps[i].takes ||
		    told != (steps[i].text != NULL) || (told && !strstr(text, steps[i].text)))
			fail_msg("%s: takes %d, says %s", steps[i].why,
				 gain_steps_nearest(&r820t, steps[i].wanted), told ? text : "nothing");
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(advice),
		cmocka_unit_test(readings),
		cmocka_unit_test(a_gain_it_does_not_have_is_rounded),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
