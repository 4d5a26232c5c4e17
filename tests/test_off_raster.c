#include "tests/test.h"

#include <math.h>
#include <string.h>

#include "tests/detect_world.h"
#include "tests/liquid_signals.h"

/* What lies amid two channels, in the measured part of neither, is put on one of them
 * with half a step of offset, and stays there from look to look. */
static const struct {
	const char *why;
	enum signal signal;
	int64_t     step_thirds;
	int32_t     width_hz;
	enum mode   mode;
	double      away_hz;            /* from the middle, either way */
} rows[] = {
	{ "a carrier on 25 kHz",      SIGNAL_CARRIER,  75000,  6000,   MODE_AM,  0 },
	{ "AM on 25 kHz",             SIGNAL_AM,       75000,  6000,   MODE_AM,  0 },
	{ "a little off the middle",  SIGNAL_AM,       75000,  6000,   MODE_AM,  2000 },
	{ "11 kHz voice on 25 kHz",   SIGNAL_NFM,      75000,  16000,  MODE_NFM, 0 },
	{ "16 kHz voice on 25 kHz",   SIGNAL_NFM_WIDE, 75000,  16000,  MODE_NFM, 0 },
	{ "11 kHz voice on 20 kHz",   SIGNAL_NFM,      60000,  11000,  MODE_NFM, 0 },
	{ "11 kHz voice on 15 kHz",   SIGNAL_NFM,      45000,  11000,  MODE_NFM, 0 },
	{ "a carrier on 12.5 kHz",    SIGNAL_CARRIER,  37500,  11000,  MODE_NFM, 0 },
	{ "11 kHz voice on 12.5 kHz", SIGNAL_NFM,      37500,  11000,  MODE_NFM, 0 },
	{ "AM on 25/3 kHz",           SIGNAL_AM,       25000,  6000,   MODE_AM,  0 },
	{ "a carrier on 25/3 kHz",    SIGNAL_CARRIER,  25000,  6000,   MODE_AM,  0 },
	{ "voice on 200 kHz",         SIGNAL_NFM,      600000, 180000, MODE_WFM, 0 },
};

/* Whether it opened one of the two, and no other; which goes to *at. */
static bool one_of_two(const struct judged *j, int32_t lower, int32_t *at)
{
	*at = j->findings == 1 ? j->finding[0].channel : -1;
	return *at == lower || *at == lower + 1;
}

static void amid_two_channels_is_one_finding(void **state)
{
	static const double snr_db[] = { 6, 15, 30, 48 };
	enum { TRIALS = 8, LOOKS = 5 };
	(void)state;

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct bench b;
		double step = freq_to_hz((struct freq){ rows[i].step_thirds });
		bench_open(&b, rows[i].step_thirds, rows[i].width_hz, rows[i].mode, 2400000,
			   (struct sense){ 1e-8, 3 }, 600 + i);
		int32_t seats = b.hop->spans[0].count;
		for (size_t k = 0; k < sizeof snr_db / sizeof snr_db[0]; k++) {
			int wrong = 0, moved = 0;
			for (int trial = 0; trial < TRIALS; trial++) {
				/* Not about the tuner's own line. */
				int32_t low = (int32_t)noise_between(&b.noise, 0, seats / 2 - 3), before = -1;
				double off = rows[i].away_hz * (2 * noise_uniform(&b.noise) - 1);
				memset(b.open, 0, (size_t)seats * sizeof *b.open);
				for (int look = 0; look < LOOKS; look++) {
					int32_t at;
					fresh_noise(&b);
					signal_add(b.iq, b.block.n, b.block.rate_hz, rows[i].signal,
						   power_at(&b, snr_db[k]),
						   channel_hz(&b, low) + step / 2 + off, noise_bits(&b.noise));
					const struct judged *j = listen(&b);
					if (!one_of_two(j, low, &at)) {
						wrong++;
						continue;
					}
					moved += before >= 0 && at != before;
					double want = at == low ? step / 2 + off : off - step / 2;
					wrong += !(fabs(j->finding[0].offset_hz - want) <= 0.15 * step);
					b.open[low] = at == low;
					b.open[low + 1] = at != low;
					before = at;
				}
			}
			if (wrong > 1 || moved > 1)
				fail_msg("%s at %.0f dB: of %d looks %d wrong, %d on the other channel (seed %zu)",
					 rows[i].why, snr_db[k], TRIALS * LOOKS, wrong, moved, 600 + i);
		}
		bench_close(&b);
	}
}

/* With its neighbours in use as well: all are told, none is lost. */
static void beside_a_busy_channel_it_takes_the_other(void **state)
{
	enum { TRIALS = 40 };
	struct bench b;
	int right = 0;
	(void)state;

	bench_open(&b, 75000, 6000, MODE_AM, 2400000, (struct sense){ 1e-8, 3 }, 650);
	for (int trial = 0; trial < TRIALS; trial++) {
		int32_t low = (int32_t)noise_between(&b.noise, 2, b.hop->spans[0].count / 2 - 4);
		int side = trial % 2;
		fresh_noise(&b);
		signal_add(b.iq, b.block.n, b.block.rate_hz, SIGNAL_AM, power_at(&b, 25),
			   channel_hz(&b, low + side), noise_bits(&b.noise));
		signal_add(b.iq, b.block.n, b.block.rate_hz, SIGNAL_CARRIER, power_at(&b, 22),
			   channel_hz(&b, low) + 12500 + (side ? 300 : -300), noise_bits(&b.noise));
		const struct judged *j = listen(&b);
		right += j->findings == 2 && j->verdict[low] == VERDICT_BUSY &&
			 j->verdict[low + 1] == VERDICT_BUSY;
	}
	if (right < TRIALS - 1)
		fail_msg("both told %d times of %d (seed 650)", right, TRIALS);
	bench_close(&b);
}

/* Level and noise are those of a channel's width, so that squelch means the same. */
static void its_level_is_a_channels(void **state)
{
	enum { LOOKS = 50 };
	struct bench b;
	double sum = 0;
	int found = 0;
	(void)state;

	bench_open(&b, 75000, 6000, MODE_AM, 2400000, (struct sense){ 1e-8, 3 }, 660);
	for (int look = 0; look < LOOKS; look++) {
		fresh_noise(&b);
		tone_add(b.iq, b.block.n, power_at(&b, 20), channel_hz(&b, 20) + 12500, 2400000, 1);
		const struct judged *j = listen(&b);
		if (j->findings != 1)
			continue;
		sum += 10 * log10(j->finding[0].power / j->finding[0].floor);
		found++;
	}
	assert_int_equal(found, LOOKS);
	/* Signal and noise are 20.04 dB over the noise. */
	if (!(fabs(sum / found - 20.04) <= 0.15))
		fail_msg("20.04 dB reads %.2f (seed 660)", sum / found);
	bench_close(&b);
}

/* A raster's outermost channels claim half a step more: what is there is theirs. */
static void beyond_the_last_channel(void **state)
{
	enum { TRIALS = 30 };
	(void)state;

	for (int side = 0; side < 2; side++) {
		struct bench b = { .n_bands = 1 };
		int right = 0;
		b.band[0] = (struct band){ .mode = MODE_AM, .width_hz = 6000,
					   .raster = { FREQ_KHZ(150000), { 75000 }, 10 } };
		bench_start(&b, 2400000, 20000, (struct sense){ 1e-8, 3 }, 670);
		for (int trial = 0; trial < TRIALS; trial++) {
			fresh_noise(&b);
			tone_add(b.iq, b.block.n, power_at(&b, 10),
				 channel_hz(&b, side ? 9 : 0) + (side ? 10500 : -10500), 2400000, trial);
			const struct judged *j = listen(&b);
			right += one_and_right(j, side ? 9 : 0) &&
				 fabs(fabs(j->finding[0].offset_hz) - 10500) < 300;
		}
		if (right < TRIALS - 1)
			fail_msg("side %d: %d of %d (seed 670)", side, right, TRIALS);
		bench_close(&b);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(amid_two_channels_is_one_finding),
		cmocka_unit_test(beside_a_busy_channel_it_takes_the_other),
		cmocka_unit_test(its_level_is_a_channels),
		cmocka_unit_test(beyond_the_last_channel),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
