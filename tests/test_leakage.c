#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/spectrum.h"
#include "tests/detect_world.h"
#include "tests/liquid_signals.h"

/* What a 2.5 kHz voice puts into the channels beside its own, 12.5 kHz apart. */
#ifdef __SANITIZE_ADDRESS__
#define LOOKS   30
#else
#define LOOKS   200
#endif
#define SEED    960
#define BINS    1920
#define RATE    2400000.0

static const struct {
	const char *why;
	double      snr_db;
	int         blind;              /* at most, of two neighbours a look */
} strong[] = {
	{ "50 dB over the floor: its neighbours are idle", 50, LOOKS / 20 },
	{ "60 dB: blind at most, for its skirts stand over the noise", 60, 2 * LOOKS },
};

/* Both neighbours, look after look: never busy, never called an image. */
static void neighbours_stay_shut(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof strong / sizeof strong[0]; i++) {
		struct bench b;
		int opened = 0, blind = 0, heard = 0;
		bench_open(&b, 37500, 11000, MODE_NFM, 2400000, (struct sense){ 1e-8, 3 }, SEED + i);
		for (int look = 0; look < LOOKS; look++) {
			int32_t at = (int32_t)noise_between(&b.noise, 5, b.hop->spans[0].count - 6);
			fresh_noise(&b);
			signal_add(b.iq, b.block.n, b.block.rate_hz, SIGNAL_NFM,
				   power_at(&b, strong[i].snr_db), channel_hz(&b, at),
				   noise_bits(&b.noise));
			const struct judged *j = listen(&b);
			heard += j->verdict[at] == VERDICT_BUSY;
			for (int side = -1; side <= 1; side += 2) {
				opened += j->verdict[at + side] > VERDICT_IDLE;
				blind += j->verdict[at + side] == VERDICT_BLIND;
			}
		}
		printf("%.0f dB: heard %d of %d, beside it opened %d, blind %d (seed %d)\n",
		       strong[i].snr_db, heard, LOOKS, opened, blind, SEED + (int)i);
		fflush(stdout);
		if (opened > 0 || blind > strong[i].blind || heard < LOOKS)
			fail_msg("%s: opened %d, blind %d, heard %d of %d (seed %d)", strong[i].why,
				 opened, blind, heard, LOOKS, SEED + (int)i);
		bench_close(&b);
	}
}

/* At most, in dB of the signal's own power: measured here, and 2 dB. A voice's own
 * skirts are what every window ends at, but for Hann's a channel away; a bare carrier
 * two channels away tells the windows apart. */
static const struct {
	const char       *name;
	enum window_shape shape;
	double            beta;
	double            adjacent, off, alternate, carrier;    /* dB */
} windows[] = {
	{ "Hann",            WINDOW_HANN,            0,  -59.8, -56.9, -67, -103 },
	{ "Kaiser 8",        WINDOW_KAISER,          8,  -60.4, -60.3, -67, -79.6 },
	{ "Kaiser 10",       WINDOW_KAISER,          10, -61.1, -60.5, -67, -91.9 },
	{ "Blackman-Harris", WINDOW_BLACKMAN_HARRIS, 0,  -61.1, -60.2, -67, -103 },
};

struct leaks {
	struct spectrum *spectrum;
	float complex   *iq;
	float           *sum;
	double          *row;
	size_t           n;
};

/* Share of a signal at hz that falls within 3750 Hz of another place. */
static double leaked(struct leaks *l, enum signal s, double hz, double to_hz, uint64_t seed)
{
	struct block block = { .iq = l->iq, .format = SAMPLE_CF32, .n = l->n, .rate_hz = (int32_t)RATE };
	double bin = RATE / BINS, middle = 0.5 * BINS + 0.5;

	memset(l->iq, 0, l->n * sizeof *l->iq);
	signal_add(l->iq, l->n, RATE, s, 1, hz, seed);
	memset(l->sum, 0, BINS * sizeof *l->sum);
	spectrum_add(l->spectrum, &block, 0, (int)(l->n / (BINS / 2)) - 1, 0, l->sum);
	for (int k = 0; k < BINS; k++)
		l->row[k + 1] = l->row[k] + (double)l->sum[k];
	return look_power(l->row, BINS, (to_hz - 3750) / bin + middle, (to_hz + 3750) / bin + middle) /
	       l->row[BINS];
}

/* Mean leak over many voices, in dB. */
static double leak_db(struct leaks *l, enum signal s, double hz, double to_hz)
{
	enum { VOICES = 20 };
	double sum = 0;

	for (int i = 0; i < VOICES; i++)
		sum += leaked(l, s, hz, to_hz, SEED + (uint64_t)i) / VOICES;
	return 10 * log10(sum);
}

static void windows_leak_as_known(void **state)
{
	int bad = 0;
	(void)state;

	printf("%-16s %9s %9s %10s %9s   dB, seed %d\n", "", "adjacent", "1 kHz off", "alternate",
	       "carrier", SEED);
	for (size_t i = 0; i < sizeof windows / sizeof windows[0]; i++) {
		struct leaks l = { .n = 50880 };
		l.spectrum = spectrum_create(BINS, BINS / 2, windows[i].shape, windows[i].beta);
		l.iq = calloc(l.n, sizeof *l.iq);
		l.sum = calloc(BINS, sizeof *l.sum);
		l.row = calloc(BINS + 1, sizeof *l.row);
		assert_true(l.spectrum && l.iq && l.sum && l.row);
		double at = 206250;             /* amid two bins, as channels lie */
		double adjacent = leak_db(&l, SIGNAL_NFM, at, at + 12500);
		double off = leak_db(&l, SIGNAL_NFM, at + 1000, at + 12500);
		double alternate = leak_db(&l, SIGNAL_NFM, at, at + 25000);
		double carrier = leak_db(&l, SIGNAL_CARRIER, at, at + 25000);
		printf("%-16s %9.1f %9.1f %10.1f %9.1f\n", windows[i].name, adjacent, off, alternate,
		       carrier);
		bad += adjacent > windows[i].adjacent || off > windows[i].off ||
		       alternate > windows[i].alternate || carrier > windows[i].carrier;
		spectrum_destroy(l.spectrum);
		free(l.iq);
		free(l.sum);
		free(l.row);
	}
	fflush(stdout);
	if (bad)
		fail_msg("%d of the windows above leak too much", bad);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(windows_leak_as_known),
		cmocka_unit_test(neighbours_stay_shut),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
