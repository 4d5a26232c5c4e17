#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/floor.h"
#include "tests/noise.h"

#define RATE    2400000
#define BINS    1920
#define N       24000           /* 10 ms: 72 degrees in 7.5 kHz */
#define LEARN   128
#define JUDGED  12
#define CHANNEL 10              /* bins: 12.5 kHz */
#define NOISE   1e-4

/* White noise through (1 + tap z^-1) once or twice: what the passband does. */
static const struct {
	const char    *why;
	float complex  tap;
	bool           twice;
	double         busy;            /* share of channels with a signal, others each look */
	double         level_db;        /* bounds: the level of the whole, and of a channel's */
	double         channel_db;      /* floor, root of the mean square                     */
} passbands[] = {
	{ "flat and empty",            0,             false, 0, 0.1, 0.15 },
	{ "flat, 20 % busy",           0,             false, 0.2, 0.1, 0.15 },
	{ "flat, 60 % busy",           0,             false, 0.6, 0.1, 0.15 },
	{ "3 dB of tilt, empty",       0.18f * I,     false, 0, 0.1, 0.15 },
	{ "3 dB of tilt, 20 % busy",   0.18f * I,     false, 0.2, 0.1, 0.15 },
	{ "3 dB of tilt, 40 % busy",   0.18f * I,     false, 0.4, 0.1, 0.15 },
	{ "3 dB of tilt, 60 % busy",   0.18f * I,     false, 0.6, 0.1, 0.15 },
	{ "14 dB of shape, empty",     0.3f + 0.3f * I, true, 0,   0.1, 0.15 },
	{ "14 dB of shape, 20 % busy", 0.3f + 0.3f * I, true, 0.2, 0.1, 0.2 },
};

struct bench {
	struct channeliser *channeliser;
	struct floor       *floor;
	float complex      *iq;
	struct noise        noise;
};

static void bench_open(struct bench *b, uint64_t seed, bool one_place)
{
	b->noise.state = seed;
	b->channeliser = channeliser_create(RATE, BINS, N);
	b->iq = calloc(N + 2, sizeof *b->iq);
	const struct spectrum *s = channeliser_spectrum(b->channeliser);
	b->floor = floor_create(channeliser_like(b->channeliser), spectrum_window(s),
				spectrum_hop(s), one_place);
	assert_true(b->iq && b->floor);
}

static void bench_close(struct bench *b)
{
	channeliser_destroy(b->channeliser);
	floor_destroy(b->floor);
	free(b->iq);
}

/* Shaped noise as a look; gain stands for what drifts from look to look. */
static struct look *hear(struct bench *b, float complex tap, bool twice, double gain)
{
	struct block block = { .iq = b->iq + 2, .format = SAMPLE_CF32, .n = N, .rate_hz = RATE };

	memset(b->iq, 0, (N + 2) * sizeof *b->iq);
	noise_add(&b->noise, b->iq, N + 2, NOISE * gain);
	for (int pass = 0; pass <= twice; pass++)
		for (size_t i = N + 1; i > 0; i--)
			b->iq[i] += tap * b->iq[i - 1];
	return channeliser_look(b->channeliser, &block);
}

/* The noise really under a stretch of bins. */
static double truth(float complex tap, bool twice, double gain, int from, int to)
{
	double sum = 0;
	for (int k = from; k < to; k++) {
		double complex h = 1 + (double complex)tap *
				   cexp(-2 * I * M_PI * (k - BINS / 2) / BINS);
		double q = creal(h * conj(h));
		sum += NOISE * gain / BINS * (twice ? q * q : q);
	}
	return sum;
}

/* Puts power into six bins amid a channel, in every slice. */
static void occupy(struct look *l, int from, double power)
{
	for (int s = 0; s < l->slices; s++) {
		float *bin = look_slice(l, s);
		for (int k = from + 1; k < from + 7; k++)
			bin[k] += (float)(power / 6);
	}
}

/* Any channel of the usable middle, with 10 to 50 dB over its noise. */
static void occupy_some(struct bench *b, struct look *l, size_t i)
{
	for (int from = 160; from < 1760; from += CHANNEL)
		if (noise_uniform(&b->noise) < passbands[i].busy)
			occupy(l, from, truth(passbands[i].tap, passbands[i].twice, 1, from, from + CHANNEL) *
				       pow(10, 1 + 4 * noise_uniform(&b->noise)));
	look_leave_out(l);
}

/* Mean error in dB over the channels of a look; its square goes to *square. */
static double errors_of_look(struct bench *b, size_t i, double gain, double *square)
{
	double sum = 0, want = 0;

	for (int from = 160; from < 1760; from += CHANNEL) {
		double p = floor_power(b->floor, from, from + CHANNEL);
		double t = truth(passbands[i].tap, passbands[i].twice, gain, from, from + CHANNEL);
		double e = 10 * log10(p / t);
		*square += e * e / 160 / JUDGED;
		sum += log(p);
		want += log(t);
	}
	return 10 / M_LN10 * (sum - want) / 160;
}

static void floors_under_signals(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof passbands / sizeof passbands[0]; i++) {
		struct bench b;
		double square = 0, off = 0;
		bench_open(&b, 800 + i, false);
		for (int k = 0; k < LEARN + JUDGED; k++) {
			double gain = pow(10, 0.05 * (noise_uniform(&b.noise) - 0.5));
			struct look *l = hear(&b, passbands[i].tap, passbands[i].twice, gain);
			occupy_some(&b, l, i);
			if (k < LEARN) {
				floor_learn(b.floor, l);
				continue;
			}
			floor_judge(b.floor, l);
			off += errors_of_look(&b, i, gain, &square) / JUDGED;
		}
		if (!(fabs(off) <= passbands[i].level_db) || sqrt(square) > passbands[i].channel_db)
			fail_msg("%s: level %+.3f dB off, channels %.3f dB rms (seed %zu)",
				 passbands[i].why, off, sqrt(square), 800 + i);
		bench_close(&b);
	}
}

/* Each look has its own level: 8 dB up or down are followed in the same look, also
 * while the shape is made of looks of both. */
static void a_step_is_followed_at_once(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b, 824, false);
	for (int k = 0; k < 3 * LEARN; k++) {
		double gain = k >= LEARN && k / 20 % 2 ? pow(10, 0.8) : 1;
		struct look *l = hear(&b, 0.18f * I, false, gain);
		floor_learn(b.floor, l);
		floor_judge(b.floor, l);
		double off = 10 * log10(floor_power(b.floor, 160, 1760) /
					truth(0.18f * I, false, gain, 160, 1760));
		if (k >= LEARN && !(fabs(off) <= 0.2))
			fail_msg("look %d: level %+.3f dB off (seed 824)", k, off);
	}
	bench_close(&b);
}

/* The header's promise: 256 looks after the passband tilts the other way, all is well. */
static void a_new_tilt_is_followed(void **state)
{
	struct bench b;
	double square = 0;
	(void)state;

	bench_open(&b, 825, false);
	for (int k = 0; k < LEARN + LEARN / 2; k++)
		floor_learn(b.floor, hear(&b, 0.18f * I, false, 1));
	for (int k = 0; k < 2 * LEARN; k++)
		floor_learn(b.floor, hear(&b, -0.18f * I, false, 1));
	floor_judge(b.floor, hear(&b, -0.18f * I, false, 1));
	for (int from = 160; from < 1760; from += CHANNEL) {
		double e = 10 * log10(floor_power(b.floor, from, from + CHANNEL) /
				      truth(-0.18f * I, false, 1, from, from + CHANNEL));
		square += e * e / 160;
	}
	if (sqrt(square) > 0.15)
		fail_msg("channels %.3f dB rms off after the new tilt (seed 825)", sqrt(square));
	bench_close(&b);
}

/* Every tenth channel of every hop carries something that never ends: another in each
 * hop, and for many sweeps. Neither level nor shape rises under it. */
static void what_never_ends_is_no_noise(void **state)
{
	enum { HOPS = 60, SWEEPS = 20 };
	struct bench b;
	double worst = 0;
	(void)state;

	bench_open(&b, 826, false);
	for (int k = 0; k < HOPS * SWEEPS; k++) {
		struct look *l = hear(&b, 0.18f * I, false, 1);
		struct noise hop = { (uint64_t)(k % HOPS) };
		for (int from = 160; from < 1760; from += CHANNEL)
			if (noise_uniform(&hop) < 0.1)
				occupy(l, from, 1e-5);
		look_leave_out(l);
		floor_learn(b.floor, l);
		if (k < LEARN)
			continue;
		floor_judge(b.floor, l);
		for (int from = 160; from < 1760; from += CHANNEL)
			worst = fmax(worst, fabs(10 * log10(
				floor_power(b.floor, from, from + CHANNEL) /
				truth(0.18f * I, false, 1, from, from + CHANNEL))));
	}
	if (worst > 0.4)
		fail_msg("the worst channel is %.3f dB off (seed 826)", worst);
	bench_close(&b);
}

/* Before anything is learnt the shape is flat, and a flat passband is judged well. */
static void a_first_look_is_judged(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b, 820, false);
	struct look *l = hear(&b, 0, false, 1);
	floor_judge(b.floor, l);
	assert_true(fabs(10 * log10(floor_level(b.floor) / NOISE)) < 0.15);
	assert_true(fabs(floor_bin(b.floor, 900) * BINS / floor_level(b.floor) - 1) < 1e-9);
	bench_close(&b);
}

static void a_click_is_left_out(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b, 821, false);
	for (int k = 0; k < LEARN; k++)
		floor_learn(b.floor, hear(&b, 0.18f * I, false, 1));
	struct look *l = hear(&b, 0.18f * I, false, 1);
	int64_t whole = l->span_us;
	float *bin = look_slice(l, 3);
	for (int k = 0; k < l->bins; k++)
		bin[k] *= 100;
	floor_judge(b.floor, l);
	for (int s = 0; s < l->slices; s++)
		assert_int_equal(l->spoilt[s], s == 3);
	assert_int_equal(l->span_us, whole * (l->slices - 1) / l->slices);
	double off = 10 * log10(floor_power(b.floor, 400, 1500) / truth(0.18f * I, false, 1, 400, 1500));
	if (!(fabs(off) <= 0.15))
		fail_msg("beside the click the floor is %.3f dB off (seed 821)", off);
	/* A strong signal that comes on in a slice is no click. */
	l = hear(&b, 0.18f * I, false, 1);
	bin = look_slice(l, 3);
	for (int k = 700; k < 710; k++)
		bin[k] += 0.01f;
	floor_judge(b.floor, l);
	for (int s = 0; s < l->slices; s++)
		assert_false(l->spoilt[s]);
	bench_close(&b);
}

/* No samples at all: finite, positive, no more than the converter's own steps. */
static void silence_has_a_floor(void **state)
{
	static uint8_t zeros[2 * N];
	struct bench b;
	struct block block = { .iq = zeros, .format = SAMPLE_CU8, .n = N, .rate_hz = RATE };
	(void)state;

	memset(zeros, 127, sizeof zeros);
	bench_open(&b, 822, true);
	for (int k = 0; k < LEARN; k++)
		floor_learn(b.floor, channeliser_look(b.channeliser, &block));
	floor_settle(b.floor);
	floor_judge(b.floor, channeliser_look(b.channeliser, &block));
	double steps = 2.0 / 12 / 127.5 / 127.5;
	assert_true(floor_level(b.floor) > 0.5 * steps && floor_level(b.floor) < 2 * steps);
	assert_true(floor_power(b.floor, 200, 300) > 0);
	bench_close(&b);
}

/* A recording never moves: its permanent carriers must not pass for passband. */
static void permanent_carriers_are_bridged(void **state)
{
	static const int at[] = { 300, 520, 700, 1100, 1350, 1500 };
	struct bench b;
	(void)state;

	bench_open(&b, 823, true);
	for (int k = 0; k < LEARN; k++) {
		struct look *l = hear(&b, 0.18f * I, false, 1);
		for (size_t i = 0; i < sizeof at / sizeof at[0]; i++)
			occupy(l, at[i], 1e-4 * pow(10, (double)i - 2));
		look_leave_out(l);
		floor_learn(b.floor, l);
	}
	floor_settle(b.floor);
	floor_judge(b.floor, hear(&b, 0.18f * I, false, 1));
	for (size_t i = 0; i < sizeof at / sizeof at[0]; i++) {
		double off = 10 * log10(floor_power(b.floor, at[i], at[i] + CHANNEL) /
					truth(0.18f * I, false, 1, at[i], at[i] + CHANNEL));
		if (!(fabs(off) <= 0.7))
			fail_msg("under the carrier at bin %d the floor is %.2f dB off (seed 823)",
				 at[i], off);
	}
	double off = 10 * log10(floor_power(b.floor, 160, 1760) / truth(0.18f * I, false, 1, 160, 1760));
	if (!(fabs(off) <= 0.2))
		fail_msg("the whole is %.3f dB off (seed 823)", off);
	bench_close(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(floors_under_signals),
		cmocka_unit_test(a_step_is_followed_at_once),
		cmocka_unit_test(a_new_tilt_is_followed),
		cmocka_unit_test(what_never_ends_is_no_noise),
		cmocka_unit_test(a_first_look_is_judged),
		cmocka_unit_test(a_click_is_left_out),
		cmocka_unit_test(silence_has_a_floor),
		cmocka_unit_test(permanent_carriers_are_bridged),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
