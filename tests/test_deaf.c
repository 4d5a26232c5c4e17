#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/deaf.h"
#include "dsp/dice.h"
#include "dsp/ear.h"
#include "tests/noise.h"

#define HOPS    12
#define SEED    20261127

/* A look that was good for so many of ten slices. */
static struct look look_of(int good)
{
	return (struct look){ .slices = 10, .good = good };
}

static enum hearing hear(struct deaf *d, int hop, double db)
{
	struct look l = look_of(10);

	return deaf_look(d, hop, &l, pow(10, db / 10));
}

static struct deaf *learnt(double db)
{
	struct deaf *d = deaf_create(HOPS);

	assert_non_null(d);
	for (int i = 0; i < DEAF_LEARNT; i++)
		for (int hop = 0; hop < HOPS; hop++)
			assert_int_equal(hear(d, hop, db - hop), HEARING_UNTOLD);
	return d;
}

/* ---- one look ---- */

static const struct {
	const char  *why;
	double       fall_db;
	int          good;
	double       clipped;
	bool         gap;
	enum hearing is;
} looks[] = {
	{ "as ever",                              0,    10, 0,     false, HEARING_WELL },
	{ "lamps are on",                         -8,   10, 0,     false, HEARING_WELL },
	{ "colder by 30 degrees",                 1,    10, 0,     false, HEARING_WELL },
	{ "just not enough",                      2.95, 10, 0,     false, HEARING_WELL },
	{ "half its noise",                       3.05, 10, 0,     false, HEARING_NOTHING },
	{ "the converter alone",                  9,    10, 0,     false, HEARING_NOTHING },
	{ "zeros",                                200,  10, 0,     false, HEARING_NOTHING },
	{ "clicks took half of it and no more",   9,    5,  0,     false, HEARING_NOTHING },
	{ "of little that clicks left",           9,    4,  0,     false, HEARING_UNTOLD },
	{ "samples were lost",                    9,    10, 0,     true,  HEARING_UNTOLD },
	{ "a strong one took the gain",           9,    10, 0.002, false, HEARING_UNTOLD },
};

static void each_look_is_told(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++) {
		struct deaf *d = learnt(-40);
		struct look l = look_of(looks[i].good);
		l.clipped = looks[i].clipped;
		l.gap = looks[i].gap;
		enum hearing is = deaf_look(d, 3, &l, pow(10, (-43 - looks[i].fall_db) / 10));
		double fall_db = deaf_state(d).fall_db;
		if (is != looks[i].is || is != deaf_state(d).last)
			fail_msg("%s: %d", looks[i].why, (int)is);
		if (!(fabs(fall_db - (is == HEARING_NOTHING ? looks[i].fall_db : 0)) <= 1e-6))
			fail_msg("%s: by %.2f dB", looks[i].why, fall_db);
		/* Whatever it was taught nothing that matters. */
		if (hear(d, 3, -43) != HEARING_WELL)
			fail_msg("%s: afterwards it hears no more", looks[i].why);
		if (hear(d, 3, -43 - 3.2) != HEARING_NOTHING)
			fail_msg("%s: afterwards a fall is none", looks[i].why);
		deaf_destroy(d);
	}
}

/* ---- many ---- */

/* A whole night of it, and it hears at once when it does. */
static void it_stays_deaf(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	for (int k = 0; k < 20000; k++)
		if (hear(d, k % HOPS, -49 - k % HOPS) != HEARING_NOTHING)
			fail_msg("look %d", k);
	for (int hop = 0; hop < HOPS; hop++)
		assert_int_equal(hear(d, hop, -40 - hop), HEARING_WELL);
	assert_int_equal(hear(d, 0, -49), HEARING_NOTHING);
	deaf_destroy(d);
}

/* Nor is one that comes and goes for a sweep of the band's doing, until each hop fell that
 * often in a row. */
static void what_comes_and_goes_is_deaf(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	for (int k = 0; k < 1000; k++) {
		bool deaf = k / HOPS % 2 == 1;
		int hop = k % HOPS;
		assert_int_equal(hear(d, hop, -40 - hop - 9 * deaf), deaf ? HEARING_NOTHING : HEARING_WELL);
	}
	deaf_destroy(d);
}

/* The lamps were on from the first look on, in a third of the hops, and go out. Their hops are
 * out of the account for DEAF_SPELLS sweeps and then are as the others. */
static void a_bands_noise_may_stop(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	for (int sweep = 0; sweep < 50; sweep++)
		for (int hop = 0; hop < HOPS; hop++) {
			bool dark = hop < HOPS / 3;
			enum hearing is = hear(d, hop, -40 - hop - 8 * dark);
			enum hearing want = dark && sweep < DEAF_SPELLS ? HEARING_NOTHING : HEARING_WELL;
			if (is != want)
				fail_msg("sweep %d, hop %d: %d", sweep, hop, (int)is);
		}
	assert_int_equal(hear(d, 0, -48 - 3.2), HEARING_NOTHING);
	deaf_destroy(d);
}

/* It counts for each hop alone: that another had fallen before takes nothing off. */
static void each_hop_falls_for_itself(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	assert_int_equal(hear(d, 0, -49), HEARING_NOTHING);
	assert_int_equal(hear(d, 1, -41), HEARING_WELL);
	for (int k = 0; k < 2 * DEAF_SPELLS; k++) {
		assert_int_equal(hear(d, 2, -50), k < DEAF_SPELLS ? HEARING_NOTHING : HEARING_WELL);
		assert_int_equal(hear(d, 3, -43), HEARING_WELL);
	}
	deaf_destroy(d);
}

/* What a hop's least is made of: eight looks, in any order. */
static void the_least_is_learnt(void **state)
{
	static const double db[][DEAF_LEARNT] = {
		{ -30, -32, -34, -36, -38, -40, -40, -39 }, { -40, -38, -36, -34, -32, -30, -30, -30 },
	};
	(void)state;

	for (int i = 0; i < 2; i++) {
		struct deaf *d = deaf_create(1);
		for (int k = 0; k < DEAF_LEARNT; k++)
			assert_int_equal(hear(d, 0, db[i][k]), HEARING_UNTOLD);
		assert_int_equal(hear(d, 0, -43.1), HEARING_NOTHING);
		assert_int_equal(hear(d, 0, -42.9), HEARING_WELL);
		deaf_destroy(d);
	}
}

/* Another gain: no hop's noise is known. */
static void a_reset_forgets_all_hops(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	hear(d, 0, -60);
	deaf_reset(d);
	assert_true(deaf_state(d).last == HEARING_UNTOLD && !(fabs(deaf_state(d).fall_db) > 0));
	for (int hop = 0; hop < HOPS; hop++)
		assert_int_equal(hear(d, hop, -60), HEARING_UNTOLD);
	deaf_destroy(d);
	deaf_destroy(NULL);
}

/* On at ten, off at six, every night: the least is of the first evening, ... */
static void lamps_come_and_go(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	for (int k = 0; k < 4000; k++) {
		int hop = k % HOPS;
		bool lit = hop < HOPS / 3 && k / 500 % 2 == 1;
		assert_int_equal(hear(d, hop, -40 - hop + 8 * lit), HEARING_WELL);
	}
	deaf_destroy(d);
}

/* ... and what goes slowly is followed: 8 dB in an hour. */
static void warmth_is_followed(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	for (int k = 0; k < 1500 * HOPS; k++)
		assert_int_equal(hear(d, k % HOPS, -40 - k % HOPS - 8.0 * k / 1500 / HOPS), HEARING_WELL);
	assert_int_equal(hear(d, 0, -48 - 3.2), HEARING_NOTHING);
	deaf_destroy(d);
}

/* Looks amid which it began can't teach it away. */
static void half_a_fall_teaches_little(void **state)
{
	struct deaf *d = learnt(-40);

	(void)state;
	for (int k = 0; k < 20; k++) {
		assert_int_equal(hear(d, 0, -40 - 2.9), HEARING_WELL);
		assert_int_equal(hear(d, 0, -40 - 9), HEARING_NOTHING);
		assert_int_equal(hear(d, 0, -40), HEARING_WELL);
	}
	deaf_destroy(d);
}

static void what_is_not_learnt_hears_nothing_amid_a_fall(void **state)
{
	struct deaf *d = deaf_create(2);

	(void)state;
	for (int i = 0; i < DEAF_LEARNT; i++)
		assert_int_equal(hear(d, 0, -40), HEARING_UNTOLD);
	assert_int_equal(hear(d, 0, -50), HEARING_NOTHING);
	assert_int_equal(hear(d, 1, -50), HEARING_NOTHING);
	assert_int_equal(hear(d, 0, -40), HEARING_WELL);
	assert_int_equal(hear(d, 1, -40), HEARING_UNTOLD);
	/* Another receiver has another noise. */
	deaf_reset(d);
	assert_int_equal(hear(d, 0, -60), HEARING_UNTOLD);
	deaf_destroy(d);
}

/* ---- levels as they are measured ---- */

#define RATE    240000          /* a tenth of the usual: levels scatter the more   */
#define BINS    192
#define LOOK_US 5000
#define QUIET   20000
#define CHANNELS 9
#define TABLE   (1 << 18)
#define BURSTS  0.3             /* share of looks with a signal of 40 dB in it      */

struct bench {
	struct ear    *ear;
	struct band    band;
	struct dice    dice;
	float complex *hiss, *iq;
	size_t         n;
};

static void bench_open(struct bench *b)
{
	struct noise r = { .state = SEED };

	b->band = (struct band){ .id = "x", .mode = MODE_NFM, .width_hz = 11000,
				 .raster = { FREQ_HZ(144950000), FREQ_HZ(12500), CHANNELS } };
	b->n = look_samples(RATE, BINS, LOOK_US);
	b->ear = ear_create(&(struct ear_wants){
		.rate_hz = RATE, .bins = BINS, .samples = b->n, .sense = { 1e-6, 3 },
		.bands = &b->band, .n_bands = 1, .max_seats = CHANNELS });
	b->dice = dice_of(SEED, 1);
	b->hiss = calloc(TABLE, sizeof *b->hiss);
	b->iq = calloc(b->n, sizeof *b->iq);
	assert_true(b->ear && b->hiss && b->iq);
	noise_add(&r, b->hiss, TABLE, 1);
}

static void bench_close(struct bench *b)
{
	ear_destroy(b->ear);
	free(b->hiss);
	free(b->iq);
}

/* A look of noise from anywhere in the table, at times with a burst. */
static enum hearing quiet_look(struct bench *b, struct deaf *d, int hop, double power, double *db)
{
	size_t from = dice_bits(&b->dice) % (TABLE - b->n);
	struct block block = { .iq = b->iq, .format = SAMPLE_CF32, .n = b->n, .rate_hz = RATE,
			       .centre = FREQ_HZ(145000000) };

	for (size_t i = 0; i < b->n; i++)
		b->iq[i] = b->hiss[from + i] * (float)sqrt(power);
	if (dice_unit(&b->dice) < BURSTS)
		tone_add(b->iq, b->n, power * 1e4, dice_between(&b->dice, -9e4, 9e4), RATE, 0);
	ear_overhear(b->ear, &block);
	*db = 10 * log10(ear_noise(b->ear));
	return deaf_look(d, hop, ear_look(b->ear), ear_noise(b->ear));
}

/* None of 20,000: so fewer than 1 in 6,600 with 95 % (the rule of three); by the scatter measured
 * it is fewer than one look in any survey, for a fall of 3 dB is over ten deviations. */
static void quiet_looks_are_not_deaf(void **state)
{
	struct deaf *d = deaf_create(HOPS);
	struct bench b;
	double db, sum = 0, square = 0;

	(void)state;
	bench_open(&b);
	for (int k = 0; k < QUIET; k++) {
		if (quiet_look(&b, d, k % HOPS, 1e-4, &db) == HEARING_NOTHING)
			fail_msg("seed %d, look %d: deaf by %.2f dB", SEED, k, deaf_state(d).fall_db);
		sum += db + 40;
		square += (db + 40) * (db + 40);
	}
	double mean = sum / QUIET, sd = sqrt(square / QUIET - mean * mean);
	print_message("seed %d: level off by %+.3f dB, scatters by %.3f dB\n", SEED, mean, sd);
	assert_true(sd < DEAF_FALL_DB / 10);
	/* The same by 3.5 dB less is always found. */
	for (int k = 0; k < 500; k++)
		if (quiet_look(&b, d, k % HOPS, 1e-4 * pow(10, -0.45), &db) != HEARING_NOTHING)
			fail_msg("seed %d, look %d: hears at %.2f dB", SEED, k, db);
	bench_close(&b);
	deaf_destroy(d);
}

/* What is forgotten leaves the passband's shape as if it had never been, wherever in the
 * memory of looks it was; but for a thousandth, for each shape is made from the one before. */
static void what_is_forgotten_was_never_learnt(void **state)
{
	struct bench b, never;
	struct block block = { .format = SAMPLE_CF32, .rate_hz = RATE, .centre = FREQ_HZ(145000000) };

	(void)state;
	bench_open(&b);
	bench_open(&never);
	for (int k = 0; k < 310; k++) {
		block.iq = b.hiss + k * 800;
		block.n = b.n;
		ear_learn(b.ear, &block);
		ear_learn(never.ear, &block);
		if (k % 50 < 20)
			continue;
		/* A tuner's edge falls off, its converter's noise is flat: here the other way round. */
		for (size_t i = 0; i < b.n; i++)
			b.iq[i] = b.hiss[i] + b.hiss[i + 1];
		block.iq = b.iq;
		ear_learn(b.ear, &block);
		ear_forget(b.ear);
	}
	ear_settle(b.ear);
	ear_settle(never.ear);
	block.iq = b.hiss;
	ear_overhear(b.ear, &block);
	ear_overhear(never.ear, &block);
	for (int c = 0; c < CHANNELS; c++)
		if (!(fabs(ear_floor(b.ear, 0, c) / ear_floor(never.ear, 0, c) - 1) <= 1e-3))
			fail_msg("channel %d: %g is not %g", c, ear_floor(b.ear, 0, c),
				 ear_floor(never.ear, 0, c));
	bench_close(&b);
	bench_close(&never);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(each_look_is_told),
		cmocka_unit_test(it_stays_deaf),
		cmocka_unit_test(what_comes_and_goes_is_deaf),
		cmocka_unit_test(a_bands_noise_may_stop),
		cmocka_unit_test(each_hop_falls_for_itself),
		cmocka_unit_test(the_least_is_learnt),
		cmocka_unit_test(a_reset_forgets_all_hops),
		cmocka_unit_test(lamps_come_and_go),
		cmocka_unit_test(warmth_is_followed),
		cmocka_unit_test(half_a_fall_teaches_little),
		cmocka_unit_test(what_is_not_learnt_hears_nothing_amid_a_fall),
		cmocka_unit_test(quiet_looks_are_not_deaf),
		cmocka_unit_test(what_is_forgotten_was_never_learnt),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
