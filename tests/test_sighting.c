#include "tests/test.h"

#include "dsp/sighting.h"
#include "tests/noise.h"

#include <complex.h>
#include <stdlib.h>

#define SEED  UINT64_C(20261126)
#define RATE  2400000
#define BINS  1920
#define CENTRE_HZ 154e6
#define WIDE_HZ 7500.0
#define NOISE 1e-4              /* in all of the window, full scale 1 */

struct bench {
	struct channeliser *c;
	const struct spectrum *s;
	size_t   n;
	float complex *iq;
	uint8_t *bytes;
	struct noise r;
};

static int build(void **state)
{
	struct bench *b = calloc(1, sizeof *b);

	assert_non_null(b);
	b->n = look_samples(RATE, BINS, 20000);
	b->c = channeliser_create(RATE, BINS, b->n);
	b->iq = calloc(b->n, sizeof *b->iq);
	b->bytes = calloc(b->n, 2);
	assert_true(b->c && b->iq && b->bytes);
	b->s = channeliser_spectrum(b->c);
	b->r.state = SEED;
	*state = b;
	return 0;
}

static int drop(void **state)
{
	struct bench *b = *state;

	channeliser_destroy(b->c);
	free(b->iq);
	free(b->bytes);
	free(b);
	return 0;
}

/* A look at noise and what is in iq already. */
static const struct look *look_at(struct bench *b)
{
	noise_add(&b->r, b->iq, b->n, NOISE);
	bytes_from(b->iq, b->n, b->bytes);
	for (size_t i = 0; i < b->n; i++)
		b->iq[i] = 0;
	struct block block = { .iq = b->bytes, .format = SAMPLE_CU8, .n = b->n, .rate_hz = RATE,
			       .centre = FREQ_HZ(154000000) };
	return channeliser_look(b->c, &block);
}

static struct sighting take(const struct bench *b, const struct look *l, double off_hz)
{
	return sighting_take(l, spectrum_window(b->s), spectrum_hop(b->s), CENTRE_HZ + off_hz,
			     WIDE_HZ);
}

static const struct {
	const char *why;
	double      off_hz, over_db;    /* of the noise in 7.5 kHz */
} tones[] = {
	{ "plain", 300e3, 20 }, { "amid a bin", 300625, 20 }, { "faint", -411e3, 6 },
	{ "strong", 700e3, 40 }, { "beside the middle", 15e3, 20 },
	{ "at the passband's edge", -1.1e6, 20 },
};

/* Level within what it says of itself, and where it is. */
static void tones_are_measured(void **state)
{
	struct bench *b = *state;
	double noise = NOISE * WIDE_HZ / RATE;

	for (size_t i = 0; i < sizeof tones / sizeof tones[0]; i++) {
		double power = noise * pow(10, tones[i].over_db / 10), sum = 0, worst = 0;
		int n = 60, seen = 0;
		for (int k = 0; k < n; k++) {
			tone_add(b->iq, b->n, power, tones[i].off_hz, RATE,
				 2 * M_PI * noise_uniform(&b->r));
			struct sighting s = take(b, look_at(b), tones[i].off_hz);
			double z = (s.power_db - 10 * log10(power)) / s.sigma_db;
			assert_true(s.tried);
			seen += s.seen;
			sum += z / n;
			worst = fmax(worst, fabs(z));
			double beside_hz = fabs(s.hz - CENTRE_HZ - tones[i].off_hz);
			if (tones[i].over_db >= 20 && (beside_hz > 60 || s.line < 0.9))
				fail_msg("%s: shown at %+.0f Hz, %.2f of it in one line (seed %llu)",
					 tones[i].why, s.hz - CENTRE_HZ, s.line,
					 (unsigned long long)SEED);
		}
		if (seen < n || !(fabs(sum) <= 1) || worst > 4.5)
			fail_msg("%s: seen %d of %d times, off by %.2f sigma in the mean, %.1f at "
				 "the most (seed %llu)", tones[i].why, seen, n, sum, worst,
				 (unsigned long long)SEED);
	}
}

static void noise_is_not_seen(void **state)
{
	struct bench *b = *state;
	int seen = 0, n = 0;

	for (int k = 0; k < 20; k++) {
		const struct look *l = look_at(b);
		for (double off = 30e3; off < 1.1e6; off += 10e3, n++) {
			struct sighting s = take(b, l, off);
			seen += s.seen;
			/* What could hide is below what would be seen twice over. */
			assert_true(s.seen || s.over_db < 1);
		}
	}
	if (seen > 2)
		fail_msg("seen %d times in %d places of noise (seed %llu)", seen, n,
			 (unsigned long long)SEED);
}

/* FM of 3 kHz deviation by a tone of 1 kHz spreads over its width. */
static void modulation_is_no_line(void **state)
{
	struct bench *b = *state;
	double power = NOISE * WIDE_HZ / RATE * 1000;

	for (size_t i = 0; i < b->n; i++) {
		double t = (double)i / RATE, turned = 3 * sin(2 * M_PI * 1e3 * t);
		b->iq[i] = (float)sqrt(power) *
			   (float complex)cexp(I * (2 * M_PI * 200e3 * t + turned));
	}
	struct sighting s = take(b, look_at(b), 200e3);
	assert_true(s.seen && s.line < 0.9);
}

static void where_it_can_not_look(void **state)
{
	struct bench *b = *state;
	const struct look *l = look_at(b);

	assert_false(take(b, l, 0).tried);
	assert_false(take(b, l, 6e3).tried);
	assert_true(take(b, l, 15e3).tried);
	assert_true(take(b, l, -1.17e6).tried);
	assert_false(take(b, l, -1.19e6).tried);
	assert_false(take(b, l, 5e6).tried);
	struct look gap = *l;
	gap.gap = true;
	assert_false(take(b, &gap, 300e3).tried);
	struct look clipped = *l;
	clipped.clipped = 0.01;
	assert_false(take(b, &clipped, 300e3).tried);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(tones_are_measured),
		cmocka_unit_test(noise_is_not_seen),
		cmocka_unit_test(modulation_is_no_line),
		cmocka_unit_test(where_it_can_not_look),
	};
	return cmocka_run_group_tests(tests, build, drop);
}
