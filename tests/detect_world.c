#include "tests/detect_world.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LEARN   128

void fresh_noise(struct bench *b)
{
	memset(b->iq, 0, b->block.n * sizeof *b->iq);
	noise_add(&b->noise, b->iq, b->block.n, NOISE);
}

void bench_start(struct bench *b, int32_t rate_hz, int64_t look_us, struct sense sense,
		 uint64_t seed)
{
	int seats = 0;

	assert_int_equal(hop_plan_sweep(&b->plan, b->band, b->n_bands, rate_hz), 0);
	b->hop = &b->plan.hops[0];
	for (int i = 0; i < b->hop->n_spans; i++)
		seats += b->hop->spans[i].count;
	size_t n = look_samples(rate_hz, b->hop->bins, look_us);
	b->channeliser = channeliser_create(rate_hz, b->hop->bins, n);
	assert_non_null(b->channeliser);
	const struct look *like = channeliser_like(b->channeliser);
	const struct spectrum *s = channeliser_spectrum(b->channeliser);
	b->floor = floor_create(like, spectrum_window(s), spectrum_hop(s), false);
	b->detector = detector_create(&sense, like, spectrum_window(s), spectrum_hop(s), b->band,
				      b->n_bands, seats);
	b->iq = calloc(n, sizeof *b->iq);
	b->open = calloc((size_t)seats, sizeof *b->open);
	assert_true(b->floor && b->detector && b->iq && b->open);
	b->noise.state = seed;
	b->block = (struct block){ .iq = b->iq, .format = SAMPLE_CF32, .n = n, .rate_hz = rate_hz,
				   .centre = b->hop->centre };
	for (int i = 0; i < LEARN; i++) {
		fresh_noise(b);
		floor_learn(b->floor, channeliser_look(b->channeliser, &b->block));
	}
	floor_settle(b->floor);
}

void bench_open(struct bench *b, int64_t step_thirds, int32_t width_hz, enum mode mode,
		int32_t rate_hz, struct sense sense, uint64_t seed)
{
	*b = (struct bench){ .n_bands = 1 };
	b->band[0] = (struct band){ .id = "test", .mode = mode, .width_hz = width_hz,
				    .raster = { FREQ_KHZ(150000), { step_thirds }, 4000 } };
	bench_start(b, rate_hz, 20000, sense, seed);
}

void bench_close(struct bench *b)
{
	detector_destroy(b->detector);
	floor_destroy(b->floor);
	channeliser_destroy(b->channeliser);
	hop_plan_free(&b->plan);
	free(b->iq);
	free(b->open);
}

double channel_hz(const struct bench *b, int32_t channel)
{
	struct freq f = raster_centre(&b->band[0].raster, channel);
	return freq_to_hz((struct freq){ f.thirds - b->hop->centre.thirds });
}

double power_at(const struct bench *b, double snr_db)
{
	return pow(10, snr_db / 10) * NOISE * band_measured_hz(&b->band[0]) / b->block.rate_hz;
}

const struct judged *listen_to(struct bench *b, const struct block *block)
{
	b->look = channeliser_look(b->channeliser, block);
	floor_judge(b->floor, b->look);
	return detector_judge(b->detector, b->look, b->floor, b->hop, b->open);
}

const struct judged *listen(struct bench *b)
{
	return listen_to(b, &b->block);
}

bool one_and_right(const struct judged *j, int32_t channel)
{
	return j->findings == 1 && j->finding[0].channel == channel &&
	       j->verdict[j->finding[0].seat] == VERDICT_BUSY;
}
