#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/emission.h"
#include "tests/liquid_signals.h"
#include "tests/noise.h"

#define RATE   480000
#define N      9600             /* 20 ms */
#define NOISE  1e-9             /* per hertz */
#define OVERS  20
#define LOOKS  10
#define LEVELS 4

/* What each signal should be called when so much of it is filtered out. From 15 dB
 * on 95 % must be right; at 10 dB what was measured when this was written, less
 * chance: noise then bends the frequency of data in a wide filter. */
static const struct {
	const char *why;
	enum signal signal;
	double      measured_hz;
	enum kind   want;
	int         least[LEVELS];      /* overs of 20 told right at 10, 15, 20 and 30 dB; */
					/* 0: nothing is claimed there, and nothing tried  */
} rows[] = {
	{ "carrier", SIGNAL_CARRIER, 7500, KIND_CARRIER, { 16, 19, 19, 19 } },
	{ "AM voice, 25/3 kHz", SIGNAL_AM, 5000, KIND_AM, { 19, 19, 19, 19 } },
	{ "AM voice, 12.5 kHz", SIGNAL_AM, 7500, KIND_AM, { 19, 19, 19, 19 } },
	{ "AM voice, 25 kHz", SIGNAL_AM, 15000, KIND_AM, { 19, 19, 19, 19 } },
	{ "2.5 kHz FM voice, 12.5 kHz", SIGNAL_NFM, 7500, KIND_NFM, { 19, 19, 19, 19 } },
	{ "2.5 kHz FM voice, 25 kHz", SIGNAL_NFM, 15000, KIND_NFM, { 19, 19, 19, 19 } },
	{ "5 kHz FM voice, 12.5 kHz", SIGNAL_NFM_WIDE, 9600, KIND_NFM, { 19, 19, 19, 19 } },
	{ "5 kHz FM voice, 25 kHz", SIGNAL_NFM_WIDE, 15000, KIND_NFM, { 19, 19, 19, 19 } },
	{ "2FSK, 12.5 kHz", SIGNAL_2FSK, 7500, KIND_DATA, { 19, 19, 19, 19 } },
	{ "2FSK, 25 kHz", SIGNAL_2FSK, 15000, KIND_DATA, { 0, 19, 19, 19 } },
	{ "4FSK, 12.5 kHz", SIGNAL_4FSK, 7500, KIND_DATA, { 12, 19, 19, 19 } },
	{ "4FSK, 25 kHz", SIGNAL_4FSK, 15000, KIND_DATA, { 0, 19, 19, 19 } },
};

static const double snr_db[LEVELS] = { 10, 15, 20, 30 };

struct bench {
	struct probe *probe;
	float complex *iq;
	struct noise   noise;
};

static void bench_open(struct bench *b, uint64_t seed)
{
	b->probe = probe_create(RATE, N);
	b->iq = malloc(N * sizeof *b->iq);
	b->noise.state = seed;
	assert_true(b->probe && b->iq);
}

static void bench_close(struct bench *b)
{
	probe_destroy(b->probe);
	free(b->iq);
}

/* One look at a signal near hz, measured at hz. */
static struct traits look_at(struct bench *b, enum signal s, double measured_hz, double db)
{
	struct block block = { .iq = b->iq, .format = SAMPLE_CF32, .n = N, .rate_hz = RATE };
	struct traits t;
	double hz = 0.6 * RATE * (noise_uniform(&b->noise) - 0.5);

	memset(b->iq, 0, N * sizeof *b->iq);
	noise_add(&b->noise, b->iq, N, NOISE * RATE);
	signal_add(b->iq, N, RATE, s, pow(10, db / 10) * NOISE * measured_hz,
		   hz + 200 * (noise_uniform(&b->noise) - 0.5), noise_bits(&b->noise));
	probe_load(b->probe, &block);
	probe_measure(b->probe, hz, measured_hz, NOISE, 0, N, &t);
	return t;
}

static void ten_looks_agree_on_the_kind(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		for (int k = 0; k < LEVELS; k++) {
			struct bench b;
			int right = 0;
			if (rows[i].least[k] == 0)
				continue;
			bench_open(&b, 600 + i);
			for (int over = 0; over < OVERS; over++) {
				struct votes v = { { 0 } };
				double c;
				for (int look = 0; look < LOOKS; look++) {
					struct traits t = look_at(&b, rows[i].signal,
								  rows[i].measured_hz, snr_db[k]);
					v.n[traits_kind(&t)]++;
				}
				right += votes_kind(&v, &c) == rows[i].want;
			}
			if (right < rows[i].least[k])
				fail_msg("%s at %.0f dB: %d of %d overs are called %s, want %d (seed %zu)",
					 rows[i].why, snr_db[k], right, OVERS, kind_name(rows[i].want),
					 rows[i].least[k], 600 + i);
			bench_close(&b);
		}
}

/* Traits of a bare line at 20 dB in the measured width: the filter passes 1.26 of
 * it, so a little less over its own noise; all of it in one line, no modulation. */
static void traits_of_a_carrier(void **state)
{
	struct bench b;
	(void)state;

	bench_open(&b, 700);
	for (int i = 0; i < 20; i++) {
		struct traits t = look_at(&b, SIGNAL_CARRIER, 7500, 20);
		if (t.snr < 60 || t.snr > 110)
			fail_msg("20 dB read %.1f dB (seed 700)", 10 * log10(t.snr));
		if (fabs(t.line - 1) > 0.1 || fabs(t.envelope) > 0.02 || t.swing_hz > 500)
			fail_msg("line %.3f, envelope %.3f, swing %.0f Hz (seed 700)", t.line,
				 t.envelope, t.swing_hz);
	}
	bench_close(&b);
}

/* Noise's share is taken off: the envelope of FM stays flat at any level. */
static void traits_are_free_of_noise(void **state)
{
	static const double db[] = { 10, 15, 20, 30 };
	struct bench b;
	(void)state;

	bench_open(&b, 701);
	for (size_t k = 0; k < sizeof db / sizeof db[0]; k++) {
		double fm = 0, am = 0, line = 0;
		for (int i = 0; i < 30; i++) {
			fm += look_at(&b, SIGNAL_NFM, 7500, db[k]).envelope / 30;
			struct traits t = look_at(&b, SIGNAL_AM, 7500, db[k]);
			am += t.envelope / 30;
			line += t.line / 30;
		}
		if (fabs(fm) > 0.03 || am < 0.08 || line < 0.8 || line > 1)
			fail_msg("%.0f dB: envelope of FM %.3f, of AM %.3f with line %.3f (seed 701)",
				 db[k], fm, am, line);
	}
	bench_close(&b);
}

static void nothing_is_said_of_little(void **state)
{
	struct bench b;
	struct traits t;
	struct block block;
	(void)state;

	bench_open(&b, 702);
	for (int i = 0; i < 20; i++) {
		t = look_at(&b, SIGNAL_NFM, 7500, 5);
		assert_int_equal(traits_kind(&t), KIND_UNKNOWN);
	}
	block = (struct block){ .iq = b.iq, .format = SAMPLE_CF32, .n = N, .rate_hz = RATE };
	probe_load(b.probe, &block);
	probe_measure(b.probe, 0, 7500, NOISE, 0, 600, &t);     /* 1.25 ms */
	assert_int_equal(traits_kind(&t), KIND_UNKNOWN);
	probe_measure(b.probe, 0, 7500, NOISE, 9400, 90000, &t);
	assert_int_equal(traits_kind(&t), KIND_UNKNOWN);
	memset(b.iq, 0, N * sizeof *b.iq);
	probe_load(b.probe, &block);
	probe_measure(b.probe, 0, 7500, 0, 0, N, &t);           /* silence and no noise */
	assert_int_equal(traits_kind(&t), KIND_UNKNOWN);
	probe_destroy(NULL);
	bench_close(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(ten_looks_agree_on_the_kind),
		cmocka_unit_test(traits_of_a_carrier),
		cmocka_unit_test(traits_are_free_of_noise),
		cmocka_unit_test(nothing_is_said_of_little),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
