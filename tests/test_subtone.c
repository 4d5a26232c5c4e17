#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <liquid/liquid.h>

#include "dsp/discriminator.h"
#include "dsp/subtone.h"
#include "dsp/zoom.h"
#include "tests/noise.h"
#include "tests/spoken.h"

#define SEED   9300
#define DWELLS 3
#define DEVIATION 2500
#define WIDTH  12500.0          /* SNR is in 12.5 kHz */

/* The filter's own start takes 0.06 s. */
static const double dwell_s[DWELLS] = { 0.41, 0.81, 3 };

/* What an over of that speech at that SNR is said to carry after each of the dwells. */
static void hear(const struct spoken *s, double snr_db, uint64_t seed, struct subtone_word out[DWELLS])
{
	size_t n = (size_t)(SPOKEN_HZ * 3.1), given = 0;
	struct noise r = { seed };
	float *audio = malloc(n * sizeof *audio), *hz = malloc(n * sizeof *hz);
	float complex *iq = malloc(n * sizeof *iq);
	struct reel *reel = reel_create(SPOKEN_HZ, n);
	struct zoom *zoom = zoom_create(SPOKEN_HZ, n, ZOOM_NARROW_HZ);
	struct subtone *t = subtone_create(zoom_rate(zoom));
	struct discriminator d = { 0 };
	freqmod f = freqmod_create((float)DEVIATION / SPOKEN_HZ);

	assert_true(audio && hz && iq && reel && zoom && t && f);
	spoken_make(s, noise_bits(&r), audio, n);
	freqmod_modulate_block(f, audio, (unsigned)n, iq);
	noise_add(&r, iq, n, SPOKEN_HZ / WIDTH * pow(10, -snr_db / 10));
	reel_load(reel, &(struct block){ .iq = iq, .format = SAMPLE_CF32, .n = n });
	zoom_aim(zoom, 150, 9400);      /* a little off */
	size_t got = zoom_draw(zoom, reel, 0, n);
	discriminator_feed(&d, zoom_out(zoom), got, zoom_rate(zoom), hz);
	for (int i = 0; i < DWELLS; i++) {
		size_t to = (size_t)(dwell_s[i] * zoom_rate(zoom));
		to = to > got ? got : to;
		subtone_feed(t, hz + given, to - given);
		given = to;
		subtone_take(t, &out[i]);
	}
	freqmod_destroy(f);
	subtone_destroy(t);
	zoom_destroy(zoom);
	reel_destroy(reel);
	free(iq);
	free(hz);
	free(audio);
}

/* A transmitter whose speech reaches down to the tones, peak of tone or code 375 Hz. */
static struct spoken spoken_with(int i, bool code, struct noise *r)
{
	struct spoken s = { .emphasis = noise_bits(r) & 1, .poor = noise_bits(r) & 1, .share = 0.85 };

	if (code) {
		s.code = code_bits(i);
		s.code_level = 0.15;
	} else {
		/* Encoders are up to a third of a percent off. */
		s.tone_hz = tone_ddhz(i) / 10.0 * (1 + 0.0033 * (2 * noise_uniform(r) - 1));
		s.tone = 0.15;
	}
	return s;
}

/* How many of all tones or codes, tried so often, are told right. */
static void count(bool code, double snr_db, int tries, int right[DWELLS], int wrong[DWELLS])
{
	for (int i = 0; i < (code ? CODES : TONES); i++)
		for (int t = 0; t < tries; t++) {
			uint64_t seed = (uint64_t)(SEED + 1000 * t + i);
			struct noise r = { seed };
			struct spoken s = spoken_with(i, code, &r);
			struct subtone_word w[DWELLS];
			hear(&s, snr_db, seed, w);
			for (int k = 0; k < DWELLS; k++) {
				bool ok = code ? w[k].below == BELOW_CODE && w[k].code == code_bits(i)
					       : w[k].below == BELOW_TONE && w[k].tone_ddhz == tone_ddhz(i);
				right[k] += ok;
				wrong[k] += !ok && w[k].below > BELOW_NOTHING;
			}
		}
}

static void every_tone_and_code_is_told(void **state)
{
	(void)state;
	for (int code = 0; code < 2; code++) {
		int right[DWELLS] = { 0 }, wrong[DWELLS] = { 0 }, n = code ? CODES : TONES;
		count(code, 12, 1, right, wrong);
		for (int k = 0; k < DWELLS; k++)
			/* In 0.4 s speech may look as much like a tone: then nothing is said. */
			if (right[k] < (k ? n : 0.9 * n) || wrong[k])
				fail_msg("%s after %g s: %d of %d told, %d wrong (seed %d)",
					 code ? "codes" : "tones", dwell_s[k], right[k], n, wrong[k], SEED);
	}
}

static void speech_alone_has_none(void **state)
{
	(void)state;
	for (int i = 0; i < 200; i++) {
		struct spoken s = { .emphasis = i & 1, .poor = i & 2, .share = 1 };
		struct subtone_word w[DWELLS];
		hear(&s, i & 4 ? 25 : 12, (uint64_t)(SEED + 50000 + i), w);
		for (int k = 0; k < DWELLS; k++)
			if (w[k].below != (k ? BELOW_NOTHING : BELOW_UNKNOWN))
				fail_msg("over %d, %g s: tone %d, code %03o, share %.2f (seed %d)", i,
					 dwell_s[k], w[k].tone_ddhz, w[k].code, w[k].share,
					 SEED + 50000 + i);
	}
}

/* The whole table, by hand: the number of tries in BANDCENSUS_TABLES. */
static void table_of_tones(void **state)
{
	static const double snr_db[] = { 6, 9, 12, 20 };
	const char *tries = getenv("BANDCENSUS_TABLES");
	(void)state;

	if (!tries)
		skip();
	for (int code = 0; code < 2; code++)
		for (int i = 0; i < 4; i++) {
			int right[DWELLS] = { 0 }, wrong[DWELLS] = { 0 };
			double n = atoi(tries) * (code ? CODES : TONES);
			count(code, snr_db[i], atoi(tries), right, wrong);
			printf("%s %2.0f dB", code ? "codes" : "tones", snr_db[i]);
			for (int k = 0; k < DWELLS; k++)
				printf("  %g s %.2f %% right %.2f %% wrong", dwell_s[k],
				       100 * right[k] / n, 100 * wrong[k] / n);
			printf(" of %.0f\n", n);
			for (int k = 1; k < DWELLS && snr_db[i] >= 12; k++)
				assert_true(right[k] >= 0.99 * n && wrong[k] <= 0.01 * n);
		}
	int claims[DWELLS] = { 0 }, n = 500 * atoi(tries);
	for (int i = 0; i < n; i++) {
		struct spoken s = { .emphasis = i & 1, .poor = true, .share = 1 };
		struct subtone_word w[DWELLS];
		hear(&s, 12 + 6 * (i & 2), (uint64_t)(SEED + 100000 + i), w);
		for (int k = 0; k < DWELLS; k++)
			claims[k] += w[k].below > BELOW_NOTHING;
	}
	printf("claims in speech alone: %d, %d, %d of %d\n", claims[0], claims[1], claims[2], n);
	assert_true(claims[1] <= n / 1000 && claims[2] <= n / 1000);
}

static void measures_of_a_tone(void **state)
{
	static const struct spoken s = { .share = 0.85, .tone_hz = 100.3, .tone = 0.15 };
	struct subtone_word w[DWELLS];
	(void)state;

	hear(&s, 20, SEED, w);
	if (w[2].tone_ddhz != 1000 || !(fabs(w[2].hz - 100.3) <= 0.1) || !(fabs(w[2].peak_hz - 375) <= 15))
		fail_msg("tone %d at %.2f Hz, peak %.0f Hz", w[2].tone_ddhz, w[2].hz, w[2].peak_hz);
}

/* A tone in the middle between two standard ones is nobody's. */
static void a_tone_that_is_not_standard(void **state)
{
	static const struct spoken s = { .share = 0.85, .tone_hz = 98.7, .tone = 0.15 };
	struct subtone_word w[DWELLS];
	(void)state;

	hear(&s, 20, SEED, w);
	if (w[2].below == BELOW_TONE)
		fail_msg("98.7 Hz are called %d", w[2].tone_ddhz);
}

/* Words of 023 and three others, and the pairs that are each other's inverse, as published
 * tables have them; ten of the pairs are from memory. Both agree with the generator polynomial
 * 0xC75, and neither says which of two is sent when a one shifts the frequency up. */
static void words_of_codes(void **state)
{
	static const struct { int code; uint32_t word; } words[] = {
		{ 023, 0x763813 }, { 047, 0x0fd827 }, { 0172, 0x05f87a }, { 0754, 0x20f9ec } };
	static const int pairs[][2] = {
		{ 023, 047 }, { 025, 0244 }, { 026, 0464 }, { 031, 0627 }, { 032, 051 }, { 036, 0172 },
		{ 043, 0445 }, { 054, 0413 }, { 065, 0271 }, { 071, 0306 }, { 072, 0245 }, { 073, 0506 },
		{ 074, 0174 }, { 0114, 0712 }, { 0115, 0152 }, { 0116, 0754 }, { 0125, 0365 },
		{ 0131, 0364 }, { 0132, 0546 }, { 0134, 0223 }, { 0143, 0412 }, { 0155, 0731 },
		{ 0156, 0265 }, { 0162, 0503 }, { 0165, 0251 }, { 0205, 0263 }, { 0226, 0411 },
		{ 0243, 0351 }, { 0261, 0732 }, { 0311, 0664 }, { 0315, 0423 }, { 0331, 0465 },
		{ 0343, 0532 }, { 0346, 0612 }, { 0371, 0734 }, { 0431, 0723 }, { 0432, 0516 },
		{ 0466, 0662 }, { 0565, 0703 }, { 0606, 0631 }, { 0624, 0632 }, { 0654, 0743 },
		{ 053, 0452 }, { 0122, 0225 }, { 0145, 0274 }, { 0212, 0356 }, { 0246, 0523 },
		{ 0252, 0462 }, { 0255, 0446 }, { 0266, 0454 }, { 0325, 0526 }, { 0332, 0455 },
	};
	assert_int_equal(2 * sizeof pairs / sizeof pairs[0], CODES);
	(void)state;

	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
		assert_int_equal(code_word(words[i].code), words[i].word);
	for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
		assert_int_equal(code_inverse(pairs[i][0]), pairs[i][1]);
		assert_int_equal(code_inverse(pairs[i][1]), pairs[i][0]);
	}
	for (int i = 0; i < CODES; i++) {
		int other = code_inverse(code_bits(i));
		if (!other || other == code_bits(i) || code_inverse(other) != code_bits(i))
			fail_msg("%03o has no partner", code_bits(i));
		if (code_word(code_bits(i)) != spoken_code_word(code_bits(i)))
			fail_msg("word of %03o", code_bits(i));
	}
	for (int i = 1; i < TONES; i++)
		assert_true(tone_ddhz(i) - tone_ddhz(i - 1) >= 23);
	assert_int_equal(tone_ddhz(0), 670);
	assert_int_equal(tone_ddhz(TONES - 1), 2541);
}

static const struct subtone_word
	t100 = { .below = BELOW_TONE, .tone_ddhz = 1000 }, t123 = { .below = BELOW_TONE, .tone_ddhz = 1230 },
	c023 = { .below = BELOW_CODE, .code = 023 }, none = { .below = BELOW_NOTHING },
	brief = { .below = BELOW_UNKNOWN };

static void users_of_a_channel(void **state)
{
	static const struct {
		const char *why;
		const struct subtone_word *word[12];
		int users, first_ddhz, first_code;
	} cases[] = {
		{ "two overs are not enough", { &t100, &t100 }, 0, 0, 0 },
		{ "three that agree are", { &t100, &t100, &t100 }, 1, 1000, 0 },
		{ "short overs do not count", { &t100, &brief, &brief, &t100, &brief, &t100 }, 1, 1000, 0 },
		{ "one in four may be wrong", { &t100, &t123, &t100, &t100 }, 1, 1000, 0 },
		{ "two tones are two users", { &t123, &t100, &t123, &t100, &t100, &t123, &t123 }, 2, 1230, 0 },
		{ "a tone and a code, too", { &c023, &t100, &c023, &t100, &c023, &t100, &c023 }, 2, 0, 023 },
		{ "none, three times, is a user as well", { &none, &none, &none }, 1, 0, 0 },
		{ "no more than half is no word", { &t100, &t100, &t100, &t123, &none, &c023 }, 0, 0, 0 },
	};
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct users u = { 0 };
		for (int k = 0; k < 12 && cases[i].word[k]; k++)
			users_hear(&u, cases[i].word[k]);
		int got = users_settle(&u);
		if (got != cases[i].users || (got && (u.user[0].tone_ddhz != cases[i].first_ddhz ||
						      u.user[0].code != cases[i].first_code)))
			fail_msg("%s: %d users", cases[i].why, got);
	}
}

static void nothing_is_said_of_little(void **state)
{
	struct subtone *t = subtone_create(24000);
	struct subtone_word w;
	float hz[6000] = { 0 };
	(void)state;

	assert_non_null(t);
	subtone_take(t, &w);
	assert_int_equal(w.below, BELOW_UNKNOWN);
	for (int i = 0; i < 6000; i++)
		hz[i] = (float)(500 * sin(2 * M_PI * 100 * i / 24000.0));
	subtone_feed(t, hz, 6000);      /* 0.25 s */
	subtone_take(t, &w);
	assert_int_equal(w.below, BELOW_UNKNOWN);
	for (int i = 0; i < 8; i++)
		subtone_feed(t, hz, 6000);
	subtone_take(t, &w);
	assert_int_equal(w.tone_ddhz, 1000);
	subtone_reset(t);
	memset(hz, 0, sizeof hz);
	for (int i = 0; i < 8; i++)
		subtone_feed(t, hz, 6000);
	subtone_take(t, &w);            /* a bare carrier */
	assert_int_equal(w.tone_ddhz, 0);
	subtone_destroy(t);
	subtone_destroy(NULL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_tone_and_code_is_told),
		cmocka_unit_test(speech_alone_has_none),
		cmocka_unit_test(table_of_tones),
		cmocka_unit_test(measures_of_a_tone),
		cmocka_unit_test(a_tone_that_is_not_standard),
		cmocka_unit_test(words_of_codes),
		cmocka_unit_test(users_of_a_channel),
		cmocka_unit_test(nothing_is_said_of_little),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
