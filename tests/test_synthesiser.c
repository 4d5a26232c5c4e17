#include "tests/test.h"

#include "daemon/dongle/synthesiser.h"

#include <math.h>
#include <stdio.h>

#define REGISTERS SOURCE_ROOT "/tests/outside/r820t_registers.txt"

/* A row of what the library wrote. */
struct written {
	int     ppm;
	int32_t rate_hz, asked_hz, whole, fraction, divider, if_steps;
};

static double written_hz(const struct written *w, double ppm)
{
	return 28.8e6 * (1 + ppm * 1e-6) *
	       (2 * (w->whole + w->fraction / 65536.0) / w->divider - w->if_steps / 4194304.0);
}

static void same_as_registers(const struct written *w)
{
	struct synthesiser s = synthesiser_set(w->asked_hz, w->rate_hz, w->ppm);
	double mine = synthesiser_stands_hz(w->asked_hz, w->rate_hz, w->ppm, 12.5);

	if (s.whole != w->whole || s.fraction != w->fraction || s.divider != w->divider ||
	    s.if_steps != w->if_steps)
		fail_msg("%d Hz at %d S/s, %d ppm: N %d + %d/65536, divider %d, IF %d; the library "
			 "wrote %d + %d/65536, %d, %d", w->asked_hz, w->rate_hz, w->ppm, s.whole,
			 s.fraction, s.divider, s.if_steps, w->whole, w->fraction, w->divider,
			 w->if_steps);
	if (fabs(mine - written_hz(w, 12.5)) > 1)
		fail_msg("%d Hz at %d S/s, %d ppm: stands at %.1f Hz, the registers say %.1f",
			 w->asked_hz, w->rate_hz, w->ppm, mine, written_hz(w, 12.5));
	if (w->ppm == 0 &&
	    fabs(synthesiser_lands_hz(w->asked_hz, w->rate_hz) - written_hz(w, 0)) > 1)
		fail_msg("%d Hz at %d S/s: lands elsewhere", w->asked_hz, w->rate_hz);
}

static void registers_agree(void **state)
{
	FILE *f = fopen(REGISTERS, "r");
	struct written w;
	char line[200];
	int n = 0;

	(void)state;
	assert_non_null(f);
	while (fgets(line, sizeof line, f)) {
		if (line[0] == '#')
			continue;
		if (sscanf(line, "%d %d %d %d %d %d %d", &w.ppm, &w.rate_hz, &w.asked_hz, &w.whole,
			   &w.fraction, &w.divider, &w.if_steps) != 7)
			fail_msg("not a row: %s", line);
		same_as_registers(&w);
		n++;
	}
	fclose(f);
	assert_true(n > 500);
}

/* The crystal's error moves LO and IF alike. */
static void crystal_scales(void **state)
{
	double plain = synthesiser_lands_hz(460000000, 2400000);
	double high = synthesiser_stands_hz(460000000, 2400000, 0, 40);

	(void)state;
	assert_true(fabs(high - plain * (1 + 40e-6)) < 0.01);
}

static const struct {
	const char *why;
	int32_t     asked_hz, rate_hz;
	bool        within;
} reaches[] = {
	{ "the lowest centre that is safe", 26000000, 2400000, true },
	{ "below, the library lands on 1650 MHz without a word", 24000000, 2400000, false },
	{ "the higher IF reaches lower", 24200000, 2560000, true },
	{ "the highest that is safe", 1766000000, 2400000, true },
	{ "above, it refuses", 1769000000, 2400000, false },
	{ "no frequency at all", 0, 2400000, false },
};

static void out_of_reach(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof reaches / sizeof reaches[0]; i++) {
		struct synthesiser s = synthesiser_set(reaches[i].asked_hz, reaches[i].rate_hz, 0);
		bool within = s.divider != 0;
		if (within != reaches[i].within ||
		    (!within && synthesiser_lands_hz(reaches[i].asked_hz, reaches[i].rate_hz) !=
		    reaches[i].asked_hz))
			fail_msg("%s: %d Hz is %s", reaches[i].why, reaches[i].asked_hz,
				 within ? "within" : "out of reach");
	}
}

/* Asking for something else lands nearer than asking for what is wanted, and as
 * near as trying every hertz about it. */
static void asks_for_the_nearest(void **state)
{
	static const double wanted[] = { 31.4159e6, 98.3e6, 154.235e6, 446.03125e6, 915.0125e6, 1.7e9 };

	(void)state;
	for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++) {
		int32_t ask = synthesiser_ask_hz(wanted[i], 2400000, 38, 38.4), about = (int32_t)wanted[i];
		double got = fabs(synthesiser_stands_hz(ask, 2400000, 38, 38.4) - wanted[i]);
		double best = INFINITY;
		for (int32_t a = about - 4000; a <= about + 4000; a++)
			best = fmin(best, fabs(synthesiser_stands_hz(a, 2400000, 38, 38.4) - wanted[i]));
		if (got > best + 1)
			fail_msg("%.0f Hz: asks for %d and is %.1f Hz off, %.1f could be had", wanted[i],
				 ask, got, best);
	}
}

static void covers_its_own(void **state)
{
	(void)state;
	assert_true(synthesiser_covers("R820T"));
	assert_false(synthesiser_covers("R828D"));
	assert_false(synthesiser_covers("E4000"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(registers_agree),
		cmocka_unit_test(crystal_scales),
		cmocka_unit_test(out_of_reach),
		cmocka_unit_test(asks_for_the_nearest),
		cmocka_unit_test(covers_its_own),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
