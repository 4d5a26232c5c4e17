#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tests/detect_world.h"
#include "tests/liquid_signals.h"

/* Level, centroid and whether it is found at all, for signals of liquid-dsp's making
 * on their channels. The level wanted is that of the signal and the noise together
 * inside the measured width, where the signal alone is what the same look without
 * noise shows there. */
#ifdef __SANITIZE_ADDRESS__
#define TRIALS  6
#else
#define TRIALS  40
#endif
#define SEED    930

#define LEVEL_DB    0.35        /* root mean square, from 6 dB up, at most; 0.5 would do */
#define CENTROID_HZ 80          /* the same, from 10 dB up; 150 would do                 */

static const struct {
	enum signal signal;
	int64_t     step_thirds;
	int32_t     width_hz;
	enum mode   mode;
} rows[] = {
	{ SIGNAL_CARRIER,  37500, 11000, MODE_NFM },
	{ SIGNAL_AM,       25000, 6000,  MODE_AM },
	{ SIGNAL_NFM,      37500, 11000, MODE_NFM },
	{ SIGNAL_NFM_WIDE, 75000, 16000, MODE_NFM },
	{ SIGNAL_2FSK,     37500, 11000, MODE_NFM },
	{ SIGNAL_4FSK,     37500, 11000, MODE_NFM },
};

static const double snr_db[] = { 3, 6, 10, 20, 30, 40, 50, 60 };

struct tally {
	int    found, tried;
	double level, level_square;             /* dB beside what was put there */
	double offset, offset_square;           /* Hz                           */
};

static double in_width(const struct bench *b, const struct look *l, int32_t at)
{
	double half = band_measured_hz(&b->band[0]) / 2, hz = channel_hz(b, at);
	return look_power(l->total, l->bins, look_edge(l, hz - half), look_edge(l, hz + half));
}

/* Where the signal itself lies: FM by speech and FSK by few symbols are not centred
 * on their carrier over 20 ms. */
static double middle_hz(const struct bench *b, const struct look *l, int32_t at)
{
	double reach = 12000, sum = 0, moment = 0, hz = channel_hz(b, at);

	for (int k = (int)look_edge(l, hz - reach); k < (int)look_edge(l, hz + reach); k++) {
		double p = l->total[k + 1] - l->total[k];
		sum += p;
		moment += p * ((k - l->bins / 2) * l->bin_hz - hz);
	}
	return moment / sum;
}

static void one_trial(struct bench *b, size_t i, double db, struct tally *t)
{
	int32_t seats = b->hop->spans[0].count;
	int32_t at = (int32_t)noise_between(&b->noise, seats / 8, seats - 1 - seats / 8);
	double off = 300 * (2 * noise_uniform(&b->noise) - 1);
	uint64_t seed = noise_bits(&b->noise);

	memset(b->iq, 0, b->block.n * sizeof *b->iq);
	signal_add(b->iq, b->block.n, b->block.rate_hz, rows[i].signal, power_at(b, db),
		   channel_hz(b, at) + off, seed);
	const struct look *l = channeliser_look(b->channeliser, &b->block);
	double noise = NOISE * band_measured_hz(&b->band[0]) / b->block.rate_hz;
	double want = 10 * log10((in_width(b, l, at) + noise) / noise), middle = middle_hz(b, l, at);
	noise_add(&b->noise, b->iq, b->block.n, NOISE);
	const struct judged *j = listen(b);
	t->tried++;
	if (!one_and_right(j, at))
		return;
	double level = 10 * log10(j->finding[0].power / j->finding[0].floor) - want;
	double offset = j->finding[0].offset_hz - middle;
	t->found++;
	t->level += level;
	t->level_square += level * level;
	t->offset += offset;
	t->offset_square += offset * offset;
}

/* Prints a row; how many of its bounds it breaks. */
static int report(enum signal signal, double db, const struct tally *t)
{
	double n = fmax(1, t->found), rms = sqrt(t->level_square / n), hz = sqrt(t->offset_square / n);

	printf("%-18s %6.0f %3d/%-3d %+8.2f %8.2f %+9.0f %9.0f\n", signal_name(signal), db, t->found,
	       t->tried, t->level / n, rms, t->offset / n, hz);
	return (db >= 6 && (t->found < t->tried - 1 || rms > LEVEL_DB)) +
	       (db >= 10 && hz > CENTROID_HZ);
}

static void level_and_frequency_are_right(void **state)
{
	int bad = 0;
	(void)state;

	printf("%-18s %6s %7s %8s %8s %9s %9s   seed %d\n", "", "SNR dB", "found", "level dB",
	       "rms dB", "off Hz", "rms Hz", SEED);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct bench b;
		bench_open(&b, rows[i].step_thirds, rows[i].width_hz, rows[i].mode, 2400000,
			   (struct sense){ 1e-8, 3 }, SEED + i);
		for (size_t k = 0; k < sizeof snr_db / sizeof snr_db[0]; k++) {
			struct tally t = { 0 };
			for (int trial = 0; trial < TRIALS; trial++)
				one_trial(&b, i, snr_db[k], &t);
			bad += report(rows[i].signal, snr_db[k], &t);
		}
		bench_close(&b);
	}
	fflush(stdout);
	if (bad)
		fail_msg("%d bounds are broken above (seed %d)", bad, SEED);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(level_and_frequency_are_right),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
