#include "tests/test.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "dsp/lines.h"
#include "dsp/roll.h"
#include "tests/noise.h"

#define SEED  UINT64_C(20261126)
#define RATE  2400000
#define BINS  3840
#define N     48960             /* 20 ms */
#define LEARN 128
#define NOISE 1e-4              /* of the whole window: 2.6e-7 in 6.25 kHz */
#define CENTRE 446.0e6

struct bench {
	struct channeliser *channeliser;
	struct floor       *floor;
	double              freedom;
	float complex      *iq;
	uint8_t            *bytes;
	struct noise        noise;
};

static void bench_open(struct bench *b, uint64_t seed)
{
	b->noise.state = seed;
	b->channeliser = channeliser_create(RATE, BINS, N);
	b->iq = calloc(N, sizeof *b->iq);
	b->bytes = calloc(N, 2);
	assert_true(b->channeliser && b->iq && b->bytes);
	const struct spectrum *s = channeliser_spectrum(b->channeliser);
	const struct look *like = channeliser_like(b->channeliser);
	b->floor = floor_create(like, spectrum_window(s), spectrum_hop(s), false);
	assert_non_null(b->floor);
	b->freedom = window_freedom(spectrum_window(s), BINS, spectrum_hop(s), like->transforms, 0, 3);
}

static void bench_close(struct bench *b)
{
	channeliser_destroy(b->channeliser);
	floor_destroy(b->floor);
	free(b->iq);
	free(b->bytes);
}

static struct block block_of(const struct bench *b)
{
	return (struct block){ .iq = b->iq, .format = SAMPLE_CF32, .n = N, .rate_hz = RATE,
			       .centre = freq_from_hz(CENTRE) };
}

static void only_noise(struct bench *b)
{
	for (size_t i = 0; i < N; i++)
		b->iq[i] = 0;
	noise_add(&b->noise, b->iq, N, NOISE);
}

static void learn(struct bench *b)
{
	for (int i = 0; i < LEARN; i++) {
		only_noise(b);
		struct block k = block_of(b);
		floor_learn(b->floor, channeliser_look(b->channeliser, &k));
	}
	floor_settle(b->floor);
}

static int find(struct bench *b, struct block k, struct line out[LINES_MAX])
{
	struct look *l = channeliser_look(b->channeliser, &k);

	floor_judge(b->floor, l);
	return lines_find(l, b->floor, b->freedom, out);
}

/* FM by a tone: as wide as voice, and its middle is its carrier. */
static void fm_add(float complex *iq, double hz, double power, double swing_hz)
{
	double tone = 1000;

	for (size_t i = 0; i < N; i++) {
		double t = (double)i / RATE;
		iq[i] += (float)sqrt(power) * cexpf(I * (float)(2 * M_PI * hz * t +
				swing_hz / tone * sin(2 * M_PI * tone * t)));
	}
}

static const struct {
	const char *why;
	double      hz;         /* from the centre */
	double      power, swing_hz;
	bool        found;
	double      slack_hz;
} cases[] = {
	{ "a bare carrier on no raster at all",      123456.7, 1e-4, 0, true, 15 },
	{ "on the other side",                      -765432.1, 1e-4, 0, true, 15 },
	{ "exactly between two bins",                312812.5, 1e-4, 0, true, 15 },
	{ "12 dB over the noise in the middle 5 kHz", 5432.1,  3.4e-6, 0, true, 200 },
	{ "at 6 dB it is too near the noise",         5432.1,  8e-7, 0, false, 0 },
	{ "as wide as voice, its ends cut 26 dB down", 200500,   1e-4, 2500, true, 100 },
	{ "as wide as broadcast",                    200500,   1e-2, 75000, false, 0 },
	{ "where the passband falls",               1080000,   1e-4, 0, false, 0 },
};

static void lines_are_where_they_are(void **state)
{
	struct bench b;
	struct line out[LINES_MAX];

	(void)state;
	bench_open(&b, SEED);
	learn(&b);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		only_noise(&b);
		fm_add(b.iq, cases[i].hz, cases[i].power, cases[i].swing_hz);
		int n = find(&b, block_of(&b), out);
		if (n != cases[i].found)
			fail_msg("%s: %d lines, want %d, seed %llu", cases[i].why, n, cases[i].found,
				 (unsigned long long)SEED);
		if (n == 1 && !(fabs(out[0].hz - CENTRE - cases[i].hz) <= cases[i].slack_hz))
			fail_msg("%s: %.1f Hz beside it, at most %.0f, seed %llu", cases[i].why,
				 out[0].hz - CENTRE - cases[i].hz, cases[i].slack_hz,
				 (unsigned long long)SEED);
		if (n == 1 && !(fabs(10 * log10(out[0].power / cases[i].power)) <= 1))
			fail_msg("%s: %.1f dB too strong", cases[i].why,
				 10 * log10(out[0].power / cases[i].power));
	}
	bench_close(&b);
}

static void empty_air_has_none(void **state)
{
	struct bench b;
	struct line out[LINES_MAX];

	(void)state;
	bench_open(&b, SEED + 1);
	learn(&b);
	for (int i = 0; i < 200; i++) {
		only_noise(&b);
		int n = find(&b, block_of(&b), out);
		if (n != 0)
			fail_msg("look %d: %d lines in noise alone, seed %llu", i, n,
				 (unsigned long long)SEED + 1);
	}
	bench_close(&b);
}

static void strongest_comes_first(void **state)
{
	static const double hz[] = { -401000, 100500, 113000, 640250 };
	struct bench b;
	struct line out[LINES_MAX];

	(void)state;
	bench_open(&b, SEED + 2);
	learn(&b);
	only_noise(&b);
	for (int i = 0; i < 4; i++)
		fm_add(b.iq, hz[i], 1e-3 * pow(0.25, i), i ? 2000 : 0);
	assert_int_equal(find(&b, block_of(&b), out), 4);
	for (int i = 1; i < 4; i++)
		assert_true(out[i].power < out[i - 1].power);
	assert_true(fabs(out[2].hz - CENTRE - hz[2]) < 100);    /* 12.5 kHz beside a stronger one */
	bench_close(&b);
}

/* What a converter makes of too strong a carrier is no witness of anything. */
static void clipped_look_has_none(void **state)
{
	struct bench b;
	struct line out[LINES_MAX];

	(void)state;
	bench_open(&b, SEED + 3);
	learn(&b);
	for (int loud = 0; loud < 2; loud++) {
		only_noise(&b);
		fm_add(b.iq, 100500, loud ? 4 : 0.1, 0);
		bytes_from(b.iq, N, b.bytes);
		struct block k = block_of(&b);
		k.iq = b.bytes;
		k.format = SAMPLE_CU8;
		assert_int_equal(find(&b, k, out), !loud);
	}
	bench_close(&b);
}

/* A mirror image 40 dB down keeps its distance from the centre the other way. */
static void image_is_not_one(void **state)
{
	struct bench b;
	struct line out[LINES_MAX];

	(void)state;
	bench_open(&b, SEED + 4);
	learn(&b);
	only_noise(&b);
	fm_add(b.iq, 300500, 0.1, 0);
	fm_add(b.iq, -300500, 1e-5, 0);
	int n = find(&b, block_of(&b), out);
	assert_int_equal(n, 1);
	assert_true(out[0].hz > CENTRE);
	bench_close(&b);
}

static void roll_takes_the_median(void **state)
{
	struct roll *r = roll_create();
	struct noise noise = { SEED + 5 };
	static struct heard out[ROLL_MAX];

	(void)state;
	assert_non_null(r);
	for (int i = 0; i < 40; i++) {
		/* One look in eight is off by 2 kHz: another's beginning, a click. */
		struct line l = { .hz = 156.6e6 + (i % 8 == 7 ? 2000 : 200 * (noise_uniform(&noise) - 0.5)),
				  .width_hz = 9000, .power = 1e-4, .over = 100 };
		struct line other = l;
		other.hz += 5000;
		roll_hear(r, &l, i * INT64_C(1000000));
		if (i < 4)
			roll_hear(r, &other, i * INT64_C(6000000));
	}
	assert_int_equal(roll_call(r, 5, out), 1);
	assert_int_equal(roll_call(r, 4, out), 2);
	assert_int_equal(out[0].looks, 40);
	assert_int_equal(out[0].exchanges, 1);
	assert_int_equal(out[1].exchanges, 4);
	assert_true(fabs(out[0].witness.hz - 156.6e6) < 40);
	assert_true(out[0].witness.error_hz > 8 && out[0].witness.error_hz < 40);
	assert_true(fabs(out[0].over_db - 20) < 1e-6);
	roll_reset(r);
	assert_int_equal(roll_call(r, 1, out), 0);
	roll_destroy(r);
}

static void roll_sees_drift(void **state)
{
	static const double hz_s[] = { 0, 5, -20 };
	static struct heard out[ROLL_MAX];

	(void)state;
	for (size_t k = 0; k < 3; k++) {
		struct roll *r = roll_create();
		struct noise noise = { SEED + 6 + k };
		assert_non_null(r);
		for (int i = 0; i < 30; i++) {
			struct line l = { .hz = 856.2e6 + hz_s[k] * 2 * i + 100 * (noise_uniform(&noise) - 0.5),
					  .power = 1e-4, .over = 100 };
			roll_hear(r, &l, i * INT64_C(2000000));
		}
		assert_int_equal(roll_call(r, 5, out), 1);
		if (!(fabs(out[0].drift_hz_s - hz_s[k]) <= 4 * out[0].drift_error) || out[0].drift_error > 0.7)
			fail_msg("drift is %.2f +- %.2f Hz/s, want %g, seed %llu", out[0].drift_hz_s,
				 out[0].drift_error, hz_s[k], (unsigned long long)SEED + 6 + k);
		roll_destroy(r);
	}
}

/* What was heard often is not pushed out by what was heard once. */
static void roll_has_an_end(void **state)
{
	struct roll *r = roll_create();
	static struct heard out[ROLL_MAX];
	struct line l = { .hz = 162.425e6, .width_hz = 9000, .power = 1e-4, .over = 100 };

	(void)state;
	assert_non_null(r);
	for (int i = 0; i < 3; i++)
		roll_hear(r, &l, i);
	for (int i = 0; i < 2 * ROLL_MAX; i++) {
		struct line once = { .hz = 400e6 + 10e3 * i, .power = 1e-4, .over = 100 };
		roll_hear(r, &once, 10 + i);
	}
	assert_int_equal(roll_call(r, 3, out), 1);
	assert_int_equal(roll_call(r, 1, out), ROLL_MAX);
	roll_destroy(r);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(lines_are_where_they_are),
		cmocka_unit_test(empty_air_has_none),
		cmocka_unit_test(strongest_comes_first),
		cmocka_unit_test(clipped_look_has_none),
		cmocka_unit_test(image_is_not_one),
		cmocka_unit_test(roll_takes_the_median),
		cmocka_unit_test(roll_sees_drift),
		cmocka_unit_test(roll_has_an_end),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
