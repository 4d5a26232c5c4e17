#include "tests/test.h"

#include "dsp/challenge.h"
#include "tests/noise.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SEED  UINT64_C(20261125)
#define CASES 400               /* of each kind and level */

/* What a line does, in the looks of a trial. Levels in dB over the noise. */
struct nature {
	const char *why;
	double      moves;      /* by so many shifts; NAN: stays, but much weaker      */
	double      order;      /* dB for each dB of gain                              */
	double      fades_db;   /* from look to look, one sigma                        */
	double      misses;     /* chance that a look catches it between two bursts    */
	double      line;
	double      share_on;
	double      hz;
	int         parents;
	double      beyond_hz;
	enum ruling_word want;
	double      least_db;   /* from there it must be found out                     */
	double      found;      /* in this share of the cases                          */
};

#define AIR 154.235e6           /* no multiple of the crystal */
#define PPM 33.0
#define CRYSTAL_5 (5 * 28.8e6 * (1 + PPM * 1e-6))
#define REAL RULING_REAL

static const struct nature natures[] = {
	{ "FM voice", 0, 1, 0.3, 0, 0.2, 0.1, AIR, 0, 0, REAL, 15, 0.97 },
	{ "AM voice, its level goes with the voice",
	  0, 1, 1.5, 0, 0.9, 0.1, AIR, 0, 0, REAL, 15, 0.9 },
	{ "FM on the move, fading", 0, 1, 2, 0, 0.2, 0.1, AIR, 3, 0, REAL, 15, 0.8 },
	{ "bursts, half of the time", 0, 1, 0.3, 0.5, 0.2, 0.5, AIR, 2, 0, REAL, 99, 0 },
	{ "bursts, a fifth missed", 0, 1, 0.3, 0.2, 0.2, 0.8, AIR, 2, 0, REAL, 99, 0 },
	{ "a beacon always on, voice on it", 0, 1, 0.3, 0, 0.2, 1, AIR, 2, 0, REAL, 15, 0.97 },
	{ "FM voice on the crystal's multiple",
	  0, 1, 0.3, 0, 0.3, 0.1, CRYSTAL_5, 0, 0, REAL, 15, 0.97 },
	{ "voice where strong ones would mix", 0, 1, 0.5, 0, 0.2, 0.1, AIR, 2, 0, REAL, 15, 0.97 },
	{ "voice a whole rate from a strong one",
	  0, 1, 0.5, 0, 0.2, 0.1, AIR, 0, 156.6e6, REAL, 15, 0.97 },
	{ "a bare carrier on now and then", 0, 1, 0.3, 0, 1, 0.3, AIR, 0, 0, REAL, 15, 0.97 },
	{ "a bare carrier always on may be anyone's",
	  0, 1, 0.3, 0, 1, 1, AIR, 0, 0, RULING_UNSURE, 6, 1 },
	{ "the crystal's harmonic", 0, 1, 0.2, 0, 1, 1, CRYSTAL_5, 0, 0, RULING_BIRDIE, 10, 0.97 },
	{ "a line that rides with the centre",
	  1, 1, 0.2, 0, 1, 1, AIR, 0, 0, RULING_SPUR, 15, 0.97 },
	{ "an image", 2, 1, 0.3, 0, 0.2, 0.1, AIR, 0, 0, RULING_IMAGE, 15, 0.97 },
	{ "by the oscillator's harmonic",
	  -1, 1, 0.3, 0, 0.2, 0.1, AIR, 0, 0, RULING_HARMONIC, 15, 0.97 },
	{ "mirrored by it", 3, 1, 0.3, 0, 0.2, 0.1, AIR, 0, 0, RULING_HARMONIC, 15, 0.97 },
	{ "folded in", NAN, 1, 0.3, 0, 0.2, 0.1, AIR, 0, 156.6e6, RULING_ALIAS, 15, 0.9 },
	{ "of third order, parents known",
	  0, 3, 0.5, 0, 0.2, 0.1, AIR, 2, 0, RULING_PRODUCT, 20, 0.97 },
	{ "of third order, parents not surveyed",
	  0, 3, 0.5, 0, 0.2, 1, AIR, 0, 0, RULING_PRODUCT, 20, 0.97 },
	{ "of second order", 0, 2, 0.3, 0, 0.2, 0.1, AIR, 2, 0, RULING_PRODUCT, 25, 0.8 },
};

/* A look at something that far over the noise, of 60 degrees of freedom; as
 * sighting_take would have it. */
static struct sighting glimpse(struct noise *r, double over_db, double hz, double line)
{
	const double nu = 60, sure = 1.6;
	double signal = pow(10, over_db / 10);
	float complex g[2] = { 0 };
	struct sighting s = { .tried = true };

	noise_add(r, g, 2, 1);
	double spread = sqrt((2 * signal + 1) / nu) * M_SQRT2;
	double measured = signal + spread * crealf(g[0]);
	s.seen = measured + 1 > sure;
	if (!s.seen)
		measured = fmax(measured, 0) + 3 / sqrt(nu) + 0.14;
	s.sigma_db = hypot(10 / M_LN10 * sqrt((2 * measured + 1) / nu) / measured, 0.3);
	s.power_db = s.over_db = 10 * log10(measured);
	s.hz = hz + 100 * M_SQRT2 * crealf(g[1]);
	s.line = line;
	return s;
}

static double level(struct noise *r, const struct nature *n, double over_db)
{
	float complex g[1] = { 0 };

	if (noise_uniform(r) < n->misses)
		return -30;
	noise_add(r, g, 1, 1);
	return over_db + n->fades_db * M_SQRT2 * crealf(g[0]);
}

static struct trial try(struct noise *r, const struct nature *n, double over_db)
{
	struct trial t = { .shift_hz = 137e3, .less_db = 6 };
	double less = 6 + (noise_uniform(r) - 0.5) * 1.6;       /* a gain table's truth */
	double noise_less = noise_uniform(r) * less;            /* the converter's own stays */

	t.home = glimpse(r, level(r, n, over_db), n->hz, n->line);
	t.again = glimpse(r, level(r, n, over_db), n->hz, n->line);
	for (enum move m = 0; m < MOVES; m++) {
		bool there = move_factor(m) == n->moves;
		t.moved[m] = glimpse(r, there ? level(r, n, over_db) : -30,
				     n->hz + move_factor(m) * t.shift_hz, n->line);
	}
	t.weaker = glimpse(r, level(r, n, over_db) - n->order * less + noise_less, n->hz, n->line);
	t.weaker.power_db -= noise_less;
	return t;
}

/* As it is done: trial after trial until there is a word. */
static enum ruling_word prove(struct noise *r, const struct nature *n, double over_db, int trials,
			      bool keyed)
{
	struct evidence e = {
		.hz = n->hz, .wide_hz = 7500, .applied_ppm = PPM, .show_error_hz = 500,
		.looks = 1000, .on = (int)(1000 * n->share_on), .parents = n->parents,
		.beyond_hz = n->beyond_hz, .with = keyed ? 4 : 0, .parents_share = 0.1,
	};

	for (int k = 0; k < trials && e.trials < TRIALS_MOST; k++) {
		struct trial t = try(r, n, over_db);
		e.broken += trial_broke(&t);
		if (!trial_counts(&t))
			continue;
		e.trial[e.trials++] = t;
		struct ruling u = challenge_judge(&e);
		if (u.is != RULING_UNSURE)
			return u.is;
	}
	return RULING_UNSURE;
}

/* At all levels: nobody on the air is condemned, and nothing but what it is. */
static void errors_both_ways(void **state)
{
	(void)state;
	for (size_t i = 0; i < 2 * sizeof natures / sizeof natures[0]; i++)
		for (double db = 4; db <= 40; db += db < 20 ? 2 : 5) {
			const struct nature *n = &natures[i / 2];
			bool keyed = i % 2;     /* by chance it kept to those that might mix */
			struct noise r = { SEED + i * 1000 + (uint64_t)db };
			int right = 0, false_one = 0, real = 0;
			for (int k = 0; k < CASES; k++) {
				enum ruling_word is = prove(&r, n, db, 40, keyed);
				right += is == n->want;
				false_one += ruling_false(is) && is != n->want;
				real += is == RULING_REAL && n->want != RULING_REAL;
			}
			if (false_one > 0 || real > CASES / 100 ||
			    (db >= n->least_db && right < n->found * CASES))
				fail_msg("%s%s, %.0f dB: %d of %d found to be %s, %d another "
					 "falsehood, %d real (seed %llu)", n->why,
					 keyed ? ", keyed" : "", db, right,
					 CASES, ruling_name(n->want), false_one, real,
					 (unsigned long long)SEED);
		}
}

/* From here each row changes one thing. */
static void rules_one_by_one(void **state)
{
	struct nature birdie = natures[11];
	struct noise r = { SEED };
	struct evidence e = { .hz = CRYSTAL_5, .wide_hz = 7500, .applied_ppm = PPM,
			      .show_error_hz = 500, .looks = 100, .on = 100 };

	(void)state;
	assert_string_equal(birdie.why, "the crystal's harmonic");
	for (int k = 0; k < 3; k++)
		e.trial[e.trials++] = try(&r, &birdie, 25);
	assert_int_equal(challenge_judge(&e).is, RULING_BIRDIE);
	double line = 0;
	for (int k = 0; k < 3; k++)
		line += (e.trial[k].home.line + e.trial[k].again.line) / 6;
	assert_true(fabs(challenge_judge(&e).line - line) < 1e-9);
	e.on = 80;                      /* goes off at times: somebody keys it */
	assert_int_not_equal(challenge_judge(&e).is, RULING_BIRDIE);
	e.on = 100;
	e.looks = 10, e.on = 10;        /* too short a time to say always */
	assert_int_not_equal(challenge_judge(&e).is, RULING_BIRDIE);
	e.looks = 100, e.on = 100;
	e.applied_ppm = 0;              /* then the multiple is 4.75 kHz away */
	assert_int_not_equal(challenge_judge(&e).is, RULING_BIRDIE);
	e.applied_ppm = PPM;
	e.trials = 0;
	assert_int_equal(challenge_judge(&e).is, RULING_UNSURE);
}

/* Three trials of a bare line on the crystal's multiple that stays where it is and falls as the gain does, with what is
 * measured true to 0.1 dB. */
static struct evidence steady_line(const double level_db[3], int looks, int on)
{
	struct evidence e = { .hz = CRYSTAL_5, .wide_hz = 7500, .applied_ppm = PPM, .show_error_hz = 500,
			      .looks = looks, .on = on, .trials = 3 };

	for (int k = 0; k < 3; k++) {
		const struct sighting s = { .tried = true, .seen = true, .hz = CRYSTAL_5, .power_db = level_db[k],
					    .over_db = level_db[k], .sigma_db = 0.1, .line = 0.95 };
		struct trial *t = &e.trial[k];
		*t = (struct trial){ .shift_hz = 137e3, .less_db = 6, .home = s, .again = s, .moved = { [MOVE_STAYS] = s },
				     .weaker = s };
		t->weaker.power_db -= 6;
	}
	return e;
}

/* It is the crystal's from twenty looks on, of which it was in 95 %, if its levels keep within 2.5 dB beyond 3 sigma each
 * way: 3.1 dB. Else nobody knows. */
static void a_crystals_line(void **state)
{
	static const struct {
		const char *why;
		double      level_db[3];
		int         looks, on;
		enum ruling_word is;
	} rows[] = {
		{ "in twenty looks of twenty", { 20, 20, 20 }, 20, 20, RULING_BIRDIE },
		{ "in nineteen of nineteen", { 20, 20, 20 }, 19, 19, RULING_UNSURE },
		{ "in nineteen of twenty", { 20, 20, 20 }, 20, 19, RULING_BIRDIE },
		{ "in 37 of forty", { 20, 20, 20 }, 40, 37, RULING_UNSURE },
		{ "3 dB up and down", { 20, 23, 21 }, 40, 40, RULING_BIRDIE },
		{ "3.2 dB", { 23.2, 20, 21 }, 40, 40, RULING_UNSURE },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct evidence e = steady_line(rows[i].level_db, rows[i].looks, rows[i].on);
		struct ruling r = challenge_judge(&e);
		if (r.is != rows[i].is || r.plain != 3 || r.moved[MOVE_STAYS] != 3 || !(fabs(r.fall_db - 6) < 1e-9) ||
		    !(fabs(r.line - 0.95) < 1e-9))
			fail_msg("%s: %s", rows[i].why, ruling_name(r.is));
	}
}

/* Once may be an accident; and none of them stays once. */
static void a_move_is_seen_twice(void **state)
{
	struct noise r = { SEED };
	const struct nature *stays = &natures[0];
	int told = 0;
	(void)state;

	for (size_t i = 0; i < sizeof natures / sizeof natures[0]; i++) {
		const struct nature *n = &natures[i];
		struct evidence e = { .hz = n->hz, .wide_hz = 7500, .looks = 100, .on = 50, .trials = 3 };
		if (n->want != RULING_SPUR && n->want != RULING_IMAGE && n->want != RULING_HARMONIC)
			continue;
		for (int k = 0; k < 2; k++)
			e.trial[k] = try(&r, n, 30);
		e.trial[2] = try(&r, stays, 30);
		assert_int_not_equal(challenge_judge(&e).is, n->want);
		e.trials = 2;
		assert_int_equal(challenge_judge(&e).is, n->want);
		e.trials = 1;
		assert_int_equal(challenge_judge(&e).is, RULING_UNSURE);
		told++;
	}
	assert_in_range(told, 3, 20);
}

/* One plain fall, or one look without a parent, and it is no product. */
static void once_real_is_enough(void **state)
{
	const struct nature *product = &natures[17], *voice = &natures[0];
	struct noise r = { SEED };
	struct evidence e = { .hz = AIR, .wide_hz = 7500, .parents = 2 };

	(void)state;
	assert_int_equal(product->want, RULING_PRODUCT);
	for (int k = 0; k < 5; k++)
		e.trial[e.trials++] = try(&r, product, 30);
	assert_int_equal(challenge_judge(&e).is, RULING_PRODUCT);
	e.without = 1;
	assert_int_not_equal(challenge_judge(&e).is, RULING_PRODUCT);
	e.without = 0;
	e.broken = 2;                   /* comes in bursts */
	assert_int_not_equal(challenge_judge(&e).is, RULING_PRODUCT);
	e.broken = 0;
	e.trial[e.trials++] = try(&r, voice, 30);
	assert_int_not_equal(challenge_judge(&e).is, RULING_PRODUCT);
	/* Four are enough where it never came without its rare parents. */
	e.trials = 4;
	assert_int_equal(challenge_judge(&e).is, RULING_UNSURE);
	e.with = 20, e.parents_share = 0.1;
	assert_int_equal(challenge_judge(&e).is, RULING_PRODUCT);
	e.parents_share = 0.95;         /* mostly on anyway: no evidence */
	assert_int_equal(challenge_judge(&e).is, RULING_UNSURE);
}

static const struct {
	const char *why;
	double      hz, ppm, error_hz;
	int         n;
} multiples[] = {
	{ "no correction: exactly there", 144e6, 0, 100, 5 },
	{ "with one it is shown where the crystal would be", 144.004752e6, 33, 100, 5 },
	{ "and no longer on the round figure", 144e6, 33, 500, 0 },
	{ "the sixteenth", 460.8e6, 0, 100, 16 },
	{ "between two", 150e6, 0, 1000, 0 },
	{ "none is below the first", 100, 0, 1000, 0 },
};

static void multiples_of_the_crystal(void **state)
{
	double off;

	(void)state;
	for (size_t i = 0; i < sizeof multiples / sizeof multiples[0]; i++) {
		int n = challenge_multiple(multiples[i].hz, multiples[i].ppm, multiples[i].error_hz,
					   &off);
		if (n != multiples[i].n)
			fail_msg("%s: %d, want %d", multiples[i].why, n, multiples[i].n);
	}
}

/* Every word has its line of evidence, cut to the room there is. */
static const struct {
	enum ruling_word is;
	int              parents;
	const char      *want;
} told[] = {
	{ RULING_UNSURE, 0, "stayed when the centre moved +137 kHz, 4 of 7 times, and fell 6 dB for 5 dB less gain" },
	{ RULING_REAL, 0, "stayed when the centre moved +137 kHz, 4 of 7 times, and fell 6 dB for 5 dB less gain" },
	{ RULING_BIRDIE, 0, "4 times the crystal's 28.8 MHz (-12 Hz), bare, on 97 % of the time, stays when the "
	  "centre moves" },
	{ RULING_SPUR, 0, "went along when the centre moved +137 kHz, 5 of 7 times" },
	{ RULING_IMAGE, 0, "went +274 kHz when the centre moved +137 kHz, as mirror images do, 6 of 7 times" },
	{ RULING_HARMONIC, 0, "went the wrong way when the centre moved +137 kHz, as by a harmonic of the tuner's "
	  "oscillator, 2 of 7 times" },
	{ RULING_ALIAS, 0, "went when the centre moved +137 kHz, 2 of 7 times: folded in from 121.5000 MHz" },
	{ RULING_PRODUCT, 0, "mixed from stronger ones, fell 6 dB or more for 5 dB less gain, 3 of 7 times" },
	{ RULING_PRODUCT, 2, "2 x 100.0000 - 110.0000 MHz, fell 6 dB or more for 5 dB less gain, 3 of 7 times" },
	{ RULING_PRODUCT, 3, "100.0000 + 110.0000 - 90.0000 MHz, fell 6 dB or more for 5 dB less gain, 3 of 7 times" },
};

static void evidence_is_told(void **state)
{
	char out[200], small[20];
	(void)state;

	for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
		struct evidence e = { .hz = AIR, .parents = told[i].parents, .parent_hz = { 1e8, 1.1e8, 0.9e8 },
				      .beyond_hz = 121.5e6 };
		struct ruling r = { .is = told[i].is, .trials = 7, .shift_hz = 137e3, .faded = 2, .steep = 3,
				    .moved = { [MOVE_STAYS] = 4, [MOVE_RIDES] = 5, [MOVE_MIRRORS] = 6 },
				    .less_db = 5, .fall_db = 6, .multiple = 4, .multiple_off_hz = -12,
				    .share_on = 0.97 };
		challenge_tell(&e, &r, out, sizeof out);
		if (strcmp(out, told[i].want))
			fail_msg("%s:\n%s, want\n%s", ruling_name(told[i].is), out, told[i].want);
		assert_true(strlen(challenge_tell(&e, &r, small, sizeof small)) < sizeof small);
	}
}

/* What is not on the air at all, and what may be. */
static void which_words_are_false(void **state)
{
	(void)state;
	for (enum ruling_word w = 0; w < RULING_WORDS; w++)
		assert_int_equal(ruling_false(w), w != RULING_UNSURE && w != RULING_REAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(errors_both_ways),
		cmocka_unit_test(rules_one_by_one),
		cmocka_unit_test(a_crystals_line),
		cmocka_unit_test(a_move_is_seen_twice),
		cmocka_unit_test(once_real_is_enough),
		cmocka_unit_test(multiples_of_the_crystal),
		cmocka_unit_test(evidence_is_told),
		cmocka_unit_test(which_words_are_false),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
