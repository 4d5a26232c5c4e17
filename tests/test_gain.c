#include "tests/test.h"

#include <math.h>

#include "daemon/calibrate/gain.h"

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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(advice),
		cmocka_unit_test(readings),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
