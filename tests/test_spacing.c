/* Which raster those heard in a band keep to, against rasters it was told nothing of.
 * BANDCENSUS_TABLES=N prints the whole table of N tries a cell. */
#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "dsp/spacing.h"
#include "tests/noise.h"

#define MOST 16

static const int64_t steps[] = { 15000, 18750, 22500, 25000, 30000, 37500, 45000, 60000, 75000 };
#define STEPS (int)(sizeof steps / sizeof steps[0])

/* The receiver hears these within 100 Hz; transmitters err evenly within their limits. */
struct trial {
	double      mhz, tolerance_ppm;
	int         n, tries;
	uint64_t    seed;
};

struct tally {
	int tries, guessed, sure, wrong;        /* wrong: and sure of it */
	int coarser;                            /* lay on a coarser raster by chance */
	double worst;                           /* of several rasters: least share guessed */
};

/* As few as n channels of a raster's 2 MHz, each once. */
static void occupy(struct noise *r, int64_t step, int n, int64_t *channel)
{
	int64_t count = 6000000 / step;

	for (int i = 0; i < n; i++) {
		bool again;
		do {
			again = false;
			channel[i] = noise_between(r, 0, count - 1);
			for (int k = 0; k < i; k++)
				again |= channel[k] == channel[i];
		} while (again);
	}
}

/* Whether they all happen to lie on a coarser raster too, of which nobody can know better. */
static bool on_a_coarser(int64_t step, const int64_t *channel, int n)
{
	bool any = false;

	for (int64_t m = 2; m <= 5; m++) {
		bool used = false, all = true;
		for (int s = 0; s < STEPS; s++)
			used |= steps[s] == m * step;
		for (int i = 1; i < n; i++)
			all &= (channel[i] - channel[0]) % m == 0;
		any |= used && all;
	}
	return any;
}

/* The same for the channels heard. */
static bool hear(struct noise *r, const struct trial *t, int64_t step, struct witness *w)
{
	int64_t channel[MOST], base = (int64_t)(t->mhz * 3e6 / (double)step) * step;
	double error = 50 + 100 * noise_uniform(r), shift = 0.2 * noise_normal(r);

	occupy(r, step, t->n, channel);
	for (int i = 0; i < t->n; i++) {
		double hz = (double)(base + channel[i] * step) / 3;
		double own = t->tolerance_ppm * (2 * noise_uniform(r) - 1);
		w[i] = (struct witness){ hz * (1 + (own + shift) * 1e-6) + error * noise_normal(r), error };
	}
	return on_a_coarser(step, channel, t->n);
}

static struct tally run(const struct trial *t, int64_t step)
{
	/* 2.5 kHz holds most of them, and so is the hardest to be told apart. */
	static const struct spacing asked = { { 7500 }, { 0 } };
	struct noise r = { t->seed * 1000 + (uint64_t)step };
	struct tally sum = { .tries = t->tries, .worst = 1 };

	for (int i = 0; i < t->tries; i++) {
		struct witness w[MOST];
		struct spacing_verdict v;
		sum.coarser += hear(&r, t, step, w);
		spacing_judge(w, t->n, &asked, &v);
		bool right = v.best.step.thirds == step && v.best.offset.thirds == 0;
		sum.guessed += right;
		sum.sure += right && v.word == SPACING_SURE;
		sum.wrong += !right && v.word == SPACING_SURE;
	}
	return sum;
}

static struct tally run_all(const struct trial *t, bool print)
{
	struct tally all = { .worst = 1 };

	if (print)
		printf("%g MHz, within %g ppm, %d channels, seed %d: step: guessed, sure, sure but wrong, "
		       "on a coarser raster by chance %%\n",
		       t->mhz, t->tolerance_ppm, t->n, (int)t->seed);
	for (int s = 0; s < STEPS; s++) {
		struct tally one = run(t, steps[s]);
		if (print)
			printf("  %7.3f kHz %6.2f %6.2f %5.2f %5.2f\n", (double)steps[s] / 3e3,
			       100.0 * one.guessed / one.tries, 100.0 * one.sure / one.tries,
			       100.0 * one.wrong / one.tries, 100.0 * one.coarser / one.tries);
		all.tries += one.tries;
		all.guessed += one.guessed;
		all.sure += one.sure;
		all.wrong += one.wrong;
		all.worst = fmin(all.worst, (double)one.guessed / one.tries);
	}
	return all;
}

/* So many of the tries, three standard errors granted. */
static double at_least(double share, int tries)
{
	return share * tries - 3 * sqrt(share * (1 - share) * tries);
}

/* Eight of 266 channels lie on every second one by chance in a third of a percent of
 * all tries, which no judge can know from a coarser raster: that is nearly all that is
 * sure and wrong here. At UHF 2.5 ppm is a fifth of the finest step: there most stay
 * unsure. */
static void tells_the_step(void **state)
{
	static const struct {
		const char  *why;
		struct trial trial;
		double       guessed, sure;     /* shares of all tries, at least */
	} rows[] = {
		{ "two are never enough", { 155, 1, 2, 60, 1 }, 0, 0 },
		{ "eight good transmitters at VHF", { 155, 1, 8, 150, 2 }, 0.99, 0.94 },
		{ "eight poor ones at VHF", { 155, 2.5, 8, 60, 3 }, 0.99, 0.92 },
		{ "eight good ones at UHF", { 460, 1, 8, 60, 4 }, 0.99, 0.87 },
		{ "eight poor ones at UHF", { 460, 2.5, 8, 60, 5 }, 0.98, 0.35 },
		{ "fourteen at VHF", { 155, 1, 14, 40, 6 }, 0.995, 0.99 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const struct trial *t = &rows[i].trial;
		struct tally all = run_all(t, false);
		printf("%s: seed %d, %d tries: guessed %.2f %%, sure %.2f %%, sure but wrong %.2f %%\n",
		       rows[i].why, (int)t->seed, all.tries, 100.0 * all.guessed / all.tries,
		       100.0 * all.sure / all.tries, 100.0 * all.wrong / all.tries);
		if (all.guessed < at_least(rows[i].guessed, all.tries) ||
		    all.sure < at_least(rows[i].sure, all.tries) ||
		    all.wrong > all.tries - at_least(0.995, all.tries))
			fail_msg("%s: seed %d", rows[i].why, (int)t->seed);
		/* Each raster, where transmitters are as good as rules ask of them. */
		if (t->n >= 8 && t->tolerance_ppm <= 1 && t->mhz < 200 &&
		    all.worst * t->tries < at_least(0.99, t->tries))
			fail_msg("%s: seed %d: one raster is guessed in %.1f %% only", rows[i].why, (int)t->seed,
				 100 * all.worst);
		if (t->n == 2 && all.sure + all.wrong > 0)
			fail_msg("%s, but %d times it was sure", rows[i].why, all.sure + all.wrong);
	}
}

static void whole_table(void **state)
{
	static const double mhz[] = { 155, 460 }, ppm[] = { 1, 2.5 };
	static const int n[] = { 2, 4, 6, 8, 10, 14 };
	const char *tables = getenv("BANDCENSUS_TABLES");

	(void)state;
	if (!tables)
		skip();
	for (int i = 0; i < 4; i++)
		for (size_t k = 0; k < sizeof n / sizeof n[0]; k++) {
			const struct trial t = { mhz[i / 2], ppm[i % 2], n[k], atoi(tables), 7 };
			struct tally all = run_all(&t, true);
			if (t.n == 2)
				assert_int_equal(all.sure + all.wrong, 0);
			if (t.n == 8 && t.tolerance_ppm <= 1)
				assert_true(all.worst * t.tries >= at_least(0.99, t.tries));
		}
}

/* ---- rasters of published channel tables ---- */

static const struct {
	const char *why;
	double      first_khz;
	int64_t     step;               /* thirds of a hertz; 0: no raster      */
	int         channel[MOST];      /* heard, 0 or more; ends with -1       */
	struct spacing asked;
	enum spacing_word word;
	struct spacing best;
} tables[] = {
	/* ITU Radio Regulations, Appendix 18: 25 kHz from 156.050, from memory */
	{ "five ships say 25 kHz, but are not enough", 156050, 75000, { 0, 10, 20, 23, 29, -1 },
	  { { 75000 }, { 0 } }, SPACING_NOT_SURE, { { 75000 }, { 0 } } },
	{ "ten ships are enough", 156050, 75000, { 0, 3, 10, 13, 20, 23, 24, 29, 33, 54, -1 },
	  { { 75000 }, { 0 } }, SPACING_SURE, { { 75000 }, { 0 } } },
	{ "ships' channels in between are seen", 156050, 37500, { 0, 3, 10, 13, 20, 23, 24, 29, 33, 54, -1 },
	  { { 75000 }, { 0 } }, SPACING_SURE, { { 37500 }, { 0 } } },
	/* European licence-free handhelds: 446.00625 and every 12.5 kHz, from memory */
	{ "shifted by half a step, which takes a few more", 446006.25, 37500,
	  { 0, 1, 2, 4, 5, 7, 8, 10, 11, 13, 14, -1 },
	  { { 37500 }, { 0 } }, SPACING_SURE, { { 37500 }, { 18750 } } },
	/* North American railways: 160.110 and every 15 kHz, from memory */
	{ "railway", 160110, 45000, { 7, 12, 23, 31, 37, 42, 54, 61, 68, -1 },
	  { { 7500 }, { 0 } }, SPACING_SURE, { { 45000 }, { 0 } } },
	/* Land mobile, 150 MHz, North America: 7.5 kHz from 150.815, from memory: 8 of 15 lie
	 * nowhere near 5 kHz */
	{ "of thirds", 150815, 22500, { 3, 8, 10, 17, 25, 36, 50, 71, 83, 85, -1 },
	  { { 7500 }, { 0 } }, SPACING_SURE, { { 22500 }, { 15000 } } },
	/* ICAO Annex 10: 25/3 kHz from 118.000, from memory */
	{ "aircraft", 118000, 25000, { 3, 11, 100, 205, 310, 514, 799, 804, -1 },
	  { { 75000 }, { 0 } }, SPACING_SURE, { { 25000 }, { 0 } } },
	{ "who keeps to no raster", 433100, 0, { 17, 141, 205, 333, 412, 512, 601, 729, 804, 888, 1003, 1117, 1250, -1 },
	  { { 75000 }, { 0 } }, SPACING_NONE, { { 0 }, { 0 } } },
	{ "one alone", 156050, 75000, { 3, -1 }, { { 75000 }, { 0 } }, SPACING_TOO_FEW,
	  { { 75000 }, { 0 } } },
};

static void tells_published_rasters(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
		struct witness w[MOST];
		struct spacing_verdict v;
		struct noise r = { 11 + i };
		int n = 0;
		for (; tables[i].channel[n] >= 0; n++) {
			/* 917 1/3 Hz is on no raster */
			double step = tables[i].step ? (double)tables[i].step / 3 : 917.0 + 1.0 / 3;
			double hz = 1e3 * tables[i].first_khz + step * tables[i].channel[n];
			w[n] = (struct witness){ hz * (1 + 0.5e-6 * noise_normal(&r)), 60 };
		}
		spacing_judge(w, n, &tables[i].asked, &v);
		bool same = v.best.step.thirds == tables[i].best.step.thirds &&
			    v.best.offset.thirds == tables[i].best.offset.thirds;
		if (v.word != tables[i].word || (tables[i].best.step.thirds && !same))
			fail_msg("%s: word %d, %.3f kHz + %.3f, odds %g", tables[i].why, v.word,
				 freq_to_hz(v.best.step) / 1e3, freq_to_hz(v.best.offset) / 1e3, v.odds);
		if (v.word == SPACING_SURE && v.agree < n)
			fail_msg("%s: only %d of %d agree", tables[i].why, v.agree, n);
	}
}

static void odds_against_the_one_asked_about(void **state)
{
	struct witness w[8];
	struct spacing_verdict v;

	(void)state;
	for (int i = 0; i < 8; i++)
		w[i] = (struct witness){ 160e6 + 25e3 * i * i, 60 };
	spacing_judge(w, 8, &(struct spacing){ { 75000 }, { 0 } }, &v);
	assert_true(v.asked_odds == 1);
	/* every channel fits, but so many coincide by chance once in 2^8 */
	spacing_judge(w, 8, &(struct spacing){ { 37500 }, { 0 } }, &v);
	assert_true(v.asked_odds > 100 && v.asked_odds < 512);
	/* none fits */
	spacing_judge(w, 8, &(struct spacing){ { 75000 }, { 37500 } }, &v);
	assert_true(v.asked_odds > 1e6);
	/* a common error of the crystal is not the raster's */
	for (int i = 0; i < 8; i++)
		w[i].hz *= 1 + 0.9e-6;
	spacing_judge(w, 8, &(struct spacing){ { 75000 }, { 0 } }, &v);
	assert_int_equal(v.word, SPACING_SURE);
	assert_int_equal(v.best.offset.thirds, 0);
}

static void which_holds_which(void **state)
{
	static const struct {
		const char    *why;
		struct spacing outer, inner;
		bool           holds;
	} rows[] = {
		{ "12.5 kHz holds 25", { { 37500 }, { 0 } }, { { 75000 }, { 0 } }, true },
		{ "and 25 shifted by 12.5", { { 37500 }, { 0 } }, { { 75000 }, { 37500 } }, true },
		{ "but not 25 shifted by 6.25", { { 37500 }, { 0 } }, { { 75000 }, { 18750 } }, false },
		{ "25 does not hold 12.5", { { 75000 }, { 0 } }, { { 37500 }, { 0 } }, false },
		{ "25/3 holds 25", { { 25000 }, { 0 } }, { { 75000 }, { 0 } }, true },
		{ "10 does not hold 25", { { 30000 }, { 0 } }, { { 75000 }, { 0 } }, false },
		{ "itself", { { 45000 }, { 15000 } }, { { 45000 }, { 15000 } }, true },
	};
	const struct raster rail = { FREQ_KHZ(160115), { 45000 }, 97 };
	struct spacing s = spacing_of(&rail);

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		if (spacing_holds(&rows[i].outer, &rows[i].inner) != rows[i].holds)
			fail_msg("%s", rows[i].why);
	assert_int_equal(s.offset.thirds, 15000);
	assert_true(fabs(spacing_beside(&s, 160115e3 + 7400) - 7400) < 1e-3);
	assert_true(fabs(spacing_beside(&s, 160115e3 + 7600) + 7400) < 1e-3);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(tells_the_step),
		cmocka_unit_test(whole_table),
		cmocka_unit_test(tells_published_rasters),
		cmocka_unit_test(odds_against_the_one_asked_about),
		cmocka_unit_test(which_holds_which),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
