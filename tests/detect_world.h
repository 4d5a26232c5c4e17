#ifndef BANDCENSUS_TESTS_DETECT_WORLD_H
#define BANDCENSUS_TESTS_DETECT_WORLD_H

#include "tests/test.h"

#include <complex.h>

#include "dsp/detect.h"
#include "dsp/floor.h"
#include "dsp/hop.h"
#include "dsp/look.h"
#include "tests/noise.h"

#define NOISE   1e-4            /* mean power of the noise over the whole rate */
#define BANDS   4

/* One hop over one band or a few, and what judges it. The floor learns noise once
 * and no more, for a test may show the same signal a thousand times. */
struct bench {
	struct band     band[BANDS];
	int             n_bands;
	struct hop_plan plan;
	struct hop     *hop;
	struct channeliser *channeliser;
	struct floor   *floor;
	struct detector *detector;
	struct look    *look;
	float complex  *iq;
	bool           *open;
	struct block    block;
	struct noise    noise;
};

/* Over the bands that b holds. */
void bench_start(struct bench *b, int32_t rate_hz, int64_t look_us, struct sense sense,
		 uint64_t seed);

/* A hop full of one band's channels. */
void bench_open(struct bench *b, int64_t step_thirds, int32_t width_hz, enum mode mode,
		int32_t rate_hz, struct sense sense, uint64_t seed);
void bench_close(struct bench *b);

/* Nothing but noise in the next look. */
void fresh_noise(struct bench *b);

double channel_hz(const struct bench *b, int32_t channel);      /* from the hop's centre */

/* Power at which a signal stands so far over the noise of a measured width. */
double power_at(const struct bench *b, double snr_db);

/* What the detector says of a look at the bench's block, or at another. */
const struct judged *listen(struct bench *b);
const struct judged *listen_to(struct bench *b, const struct block *block);

/* One finding, busy, on that channel. */
bool one_and_right(const struct judged *j, int32_t channel);

#endif
