#include "tests/test.h"

#include <math.h>

#include "dsp/crystal.h"
#include "tests/khz_band.h"
#include "tests/noise.h"

#define SEED  UINT64_C(20261125)
#define MOST  64

/* Rasters of several rule books, so that no one step helps. */
static const struct band bands[] = {
	KHZ_BAND("broadcast", 87500, 107900, 300000, MODE_WFM),
	KHZ_BAND("air", 118000, 136900, 25000, MODE_AM),
	KHZ_BAND("business-150", 150800, 155900, 15000, MODE_NFM),
	KHZ_BAND("marine", 156000, 157400, 75000, MODE_NFM),
	KHZ_BAND("rail", 160185, 161500, 45000, MODE_NFM),
	KHZ_BAND("weather", 162400, 162560, 75000, MODE_NFM),
	KHZ_BAND("business-450", 450000, 459900, 37500, MODE_NFM),
	KHZ_BAND("business-460", 460000, 469900, 37500, MODE_NFM),
	KHZ_BAND("trunked", 851000, 860900, 37500, MODE_NFM),
};
#define BANDS ((int)(sizeof bands / sizeof bands[0]))

struct air {
	int    n, groups;       /* carriers, spread over so many bands               */
	double spread_ppm;      /* of the transmitters, one sigma                    */
	double error_hz;        /* of measuring, one sigma                           */
	double stray;           /* share that keeps to no channel                    */
};

/* Carriers on channels of some bands, as a receiver shows them whose crystal is off. */
static void transmit(struct noise *r, const struct air *a, double ppm, struct witness *out)
{
	int chosen[MOST];

	for (int i = 0; i < a->groups; i++)
		chosen[i] = (int)noise_between(r, 1, BANDS - 1);
	for (int i = 0; i < a->n; i++) {
		const struct raster *q = &bands[chosen[i % a->groups]].raster;
		double hz = freq_to_hz(raster_centre(q, (int32_t)noise_between(r, 0, q->count - 1)));
		if (noise_uniform(r) < a->stray)
			hz += (noise_uniform(r) - 0.5) * freq_to_hz(q->step);
		hz *= 1 + 1e-6 * a->spread_ppm * noise_normal(r);
		out[i].hz = hz / (1 + 1e-6 * ppm) + a->error_hz * noise_normal(r);
		out[i].error_hz = a->error_hz;
	}
}

static struct crystal_wants wants(void)
{
	return (struct crystal_wants){
		.least_ppm = -CRYSTAL_RANGE_PPM, .most_ppm = CRYSTAL_RANGE_PPM,
		.witnesses = CRYSTAL_WITNESSES, .bands = CRYSTAL_BANDS, .sure_ppm = CRYSTAL_SURE_PPM,
	};
}


#define TRIALS 100

/* Where told, another peak is never taken for the right one, and half a ppm is
 * passed by one claim in fifty at the most (two and a half standard errors where
 * the error asked for is just met: 1.2 %). */
static const struct {
	const char *why;
	struct air  air;
	int         told, told_most;    /* of TRIALS, bounds */
} worlds[] = {
	{ "ten in three bands: often too rough",      { 10, 3, 0.5, 50, 0 }, 30, 80 },
	{ "twenty in four bands: nearly always",      { 20, 4, 0.5, 50, 0 }, 93, 100 },
	{ "twenty, a fifth of them on no channel",    { 20, 4, 0.5, 50, 0.2 }, 70, 100 },
	{ "thirty transmitters twice as far off",     { 30, 5, 1.0, 100, 0.1 }, 5, 50 },
	{ "six in two bands: hardly ever",            { 6, 2, 0.5, 50, 0.1 }, 0, 20 },
	{ "twenty who keep to no channel: never",     { 20, 4, 0.5, 50, 1 }, 0, 0 },
	{ "four: never",                              { 4, 4, 0.5, 50, 0 }, 0, 0 },
};

struct tally {
	int    told, wrong, half;
	double square;          /* of the errors in standard errors, summed */
};

static void try_world(struct crystal *c, const struct air *a, uint64_t seed, struct tally *t)
{
	struct noise r = { seed };
	struct crystal_wants w = wants();

	for (int i = 0; i < TRIALS; i++) {
		struct witness heard[MOST];
		struct crystal_verdict v;
		double ppm = (noise_uniform(&r) - 0.5) * 240;
		transmit(&r, a, ppm, heard);
		crystal_judge(c, &w, heard, a->n, &v);
		if (v.word != CRYSTAL_TOLD)
			continue;
		double off = v.ppm - ppm, z = off / v.error_ppm;
		t->told++;
		t->wrong += !(fabs(off) <= 1.5);
		t->half += fabs(off) > 0.5;
		t->square += z * z;
	}
}

static void told_is_right(void **state)
{
	struct crystal *c = crystal_create(bands, BANDS);
	struct tally all = { 0 };

	(void)state;
	assert_non_null(c);
	for (size_t k = 0; k < sizeof worlds / sizeof worlds[0]; k++) {
		struct tally t = { 0 };
		try_world(c, &worlds[k].air, SEED + k, &t);
		if (t.wrong > 0)
			fail_msg("%s: %d of %d claims are wrong, seed %llu", worlds[k].why, t.wrong,
				 t.told, (unsigned long long)(SEED + k));
		if (t.told < worlds[k].told || t.told > worlds[k].told_most)
			fail_msg("%s: told %d times of %d, seed %llu", worlds[k].why, t.told, TRIALS,
				 (unsigned long long)(SEED + k));
		all.told += t.told;
		all.half += t.half;
		all.square += t.square;
	}
	if (all.half > all.told / 50)
		fail_msg("%d of %d claims are off by more than half a ppm", all.half, all.told);
	/* The standard error is what it says: too small a one would be a lie, too
	 * large a one refuses in vain. */
	double z = sqrt(all.square / all.told);
	if (!(z > 0.8 && z < 1.25))
		fail_msg("errors are %.2f standard errors, seed %llu", z, (unsigned long long)SEED);
	crystal_destroy(c);
}

/* Ten carriers exactly on channels, shown by a crystal that is so much high: on none of the points 0.1 ppm apart that
 * are tried first. */
#define HIGH_PPM 31.44

static const struct {
	const char       *why;
	double            mhz[10];
	int               n;
	double            least, most;
	enum crystal_word word;
} exact[] = {
	{ "three bands tell it", { 118.45, 121.725, 156.6, 156.8, 162.425, 452.325, 453.3625, 856.2375,
	  857.2375, 858.2375 }, 10, -150, 150, CRYSTAL_TOLD },
	{ "seven on one raster repeat every 26 ppm: one band", { 452.325, 453.3625, 454.2, 455.0125,
	  456.9, 457.325, 458.5 }, 7, 20, 40, CRYSTAL_ONE_BAND },
	{ "two bands of one step beside each other leave other teeth open", { 459.1, 459.5125, 459.85,
	  460.1, 460.2125, 460.5, 460.7625 }, 7, -150, 150, CRYSTAL_AMBIGUOUS },
	{ "five are too few", { 118.45, 121.725, 452.325, 857.2375, 858.2375 }, 5, -150, 150,
	  CRYSTAL_TOO_FEW },
	{ "none at all", { 0 }, 0, -150, 150, CRYSTAL_TOO_FEW },
	{ "broadcast FM does not count", { 88.1, 94.7, 98.3, 103.1, 89.5, 90.3, 91.9, 452.325, 857.2375,
	  118.45 }, 10, -150, 150, CRYSTAL_TOO_FEW },
	{ "an answer at the end of the range is none", { 118.45, 121.725, 156.6, 156.8, 162.425, 452.325,
	  453.3625, 856.2375, 857.2375, 858.2375 }, 10, 0, 32, CRYSTAL_AMBIGUOUS },
};

static void refusals_say_why(void **state)
{
	struct crystal *c = crystal_create(bands, BANDS);

	(void)state;
	for (size_t k = 0; k < sizeof exact / sizeof exact[0]; k++) {
		struct witness heard[10];
		struct crystal_verdict v;
		struct crystal_wants w = wants();
		w.least_ppm = exact[k].least;
		w.most_ppm = exact[k].most;
		for (int i = 0; i < exact[k].n; i++)
			heard[i] = (struct witness){ exact[k].mhz[i] * 1e6 / (1 + HIGH_PPM * 1e-6), 30 };
		crystal_judge(c, &w, heard, exact[k].n, &v);
		if (v.word != exact[k].word)
			fail_msg("%s: said %d, want %d (%.2f +- %.2f ppm, odds %.3g, %d agree in %d)",
				 exact[k].why, v.word, exact[k].word, v.ppm, v.error_ppm, v.odds,
				 v.agree, v.bands);
		if (v.word == CRYSTAL_TOLD && !(fabs(v.ppm - HIGH_PPM) <= 0.01))
			fail_msg("%s: %.3f ppm, want %.3f", exact[k].why, v.ppm, HIGH_PPM);
	}
	crystal_destroy(c);
}

/* What was corrected for already is part of the answer, and moves nothing else. */
static void correction_is_added(void **state)
{
	static const double applied[] = { -60, 0, HIGH_PPM, 45 };
	struct crystal *c = crystal_create(bands, BANDS);

	(void)state;
	for (size_t k = 0; k < sizeof applied / sizeof applied[0]; k++) {
		struct witness heard[10];
		struct crystal_verdict v;
		struct crystal_wants w = wants();
		w.applied_ppm = applied[k];
		for (int i = 0; i < 10; i++)
			heard[i] = (struct witness){ exact[0].mhz[i] * 1e6 / (1 + (HIGH_PPM - applied[k]) * 1e-6),
						     30 };
		crystal_judge(c, &w, heard, 10, &v);
		if (v.word != CRYSTAL_TOLD || !(fabs(v.ppm - HIGH_PPM) <= 0.01) || v.agree != 10)
			fail_msg("with %g ppm applied: said %d, %.3f ppm, %d agree", applied[k], v.word,
				 v.ppm, v.agree);
		struct crystal_fit f = crystal_fit(c, &heard[3], HIGH_PPM - applied[k]);
		assert_int_equal(f.channel.thirds, FREQ_HZ(156800000).thirds);
		assert_true(fabs(f.residual_hz) < 1 && f.agrees > 2);
	}
	crystal_destroy(c);
}

/* A known carrier decides between the teeth of one comb. */
static void reference_decides(void **state)
{
	static const struct {
		const char *why;
		double      reference;
		bool        told;
	} rows[] = {
		{ "none", 0, false },
		{ "one that is heard", 460.2125e6, true },
		{ "one that is not on the air", 140e6, false },
	};
	struct crystal *c = crystal_create(bands, BANDS);

	(void)state;
	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
		struct witness heard[10];
		struct crystal_verdict v;
		struct crystal_wants w = wants();
		struct freq known = freq_from_hz(rows[k].reference);
		w.reference = &known;
		w.references = rows[k].reference > 0;
		for (int i = 0; i < exact[2].n; i++)
			heard[i] = (struct witness){ exact[2].mhz[i] * 1e6 / (1 + HIGH_PPM * 1e-6), 30 };
		crystal_judge(c, &w, heard, exact[2].n, &v);
		if ((v.odds >= CRYSTAL_ODDS) != rows[k].told)
			fail_msg("reference %s: odds %.3g, %.2f ppm", rows[k].why, v.odds, v.ppm);
		if (rows[k].told && !(fabs(v.ppm - HIGH_PPM) <= 0.3))
			fail_msg("reference %s: %.2f ppm, want %.2f", rows[k].why, v.ppm, HIGH_PPM);
	}
	crystal_destroy(c);
}

static void own_lines(void **state)
{
	static const struct {
		const char *why;
		double      hz, applied;
		bool        own;
	} rows[] = {
		{ "144 MHz is five times 28.8", 144e6, 0, true },
		{ "a little beside it still is", 460.8e6 - 1000, 0, true },
		{ "2 kHz beside it is somebody", 460.8e6 + 2000, 0, false },
		{ "a correction takes them along", 144e6 * (1 + 33e-6), 33, true },
		{ "and frees the channel", 144e6, 33, false },
		{ "below the first there is none", 100, 0, false },
	};
	(void)state;
	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++)
		if (crystal_own(rows[k].hz, rows[k].applied) != rows[k].own)
			fail_msg("%s: %.0f Hz", rows[k].why, rows[k].hz);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(told_is_right),
		cmocka_unit_test(refusals_say_why),
		cmocka_unit_test(correction_is_added),
		cmocka_unit_test(reference_decides),
		cmocka_unit_test(own_lines),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
