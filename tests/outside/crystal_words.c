/* What crystal_judge says of some invented witnesses, for crystal.py to check:
 * lines "case SEED", "band FIRST STEP CHANNELS", "witness HZ ERROR", "told WORD PPM ERROR". */
#include <math.h>
#include <stdio.h>

#include "dsp/crystal.h"
#include "tests/khz_band.h"
#include "tests/noise.h"

#define CASES 4

static const struct band bands[] = {
	KHZ_BAND("a", 118000, 136900, 25000, MODE_NFM), KHZ_BAND("b", 150800, 155900, 7500, MODE_NFM),
	KHZ_BAND("c", 156000, 157400, 75000, MODE_NFM), KHZ_BAND("d", 450000, 459900, 18750, MODE_NFM),
	KHZ_BAND("e", 851000, 860900, 37500, MODE_NFM),
};
#define BANDS ((int)(sizeof bands / sizeof bands[0]))

static int play(struct crystal *c, uint64_t seed)
{
	struct noise r = { seed };
	struct witness w[24];
	int n = 10 + 2 * (int)(seed % 8);
	double ppm = (noise_uniform(&r) - 0.5) * 200;
	struct crystal_verdict v;
	struct crystal_wants wants = { .least_ppm = -150, .most_ppm = 150, .witnesses = CRYSTAL_WITNESSES,
				       .bands = CRYSTAL_BANDS, .sure_ppm = CRYSTAL_SURE_PPM };

	printf("case %llu\n", (unsigned long long)seed);
	for (int i = 0; i < n; i++) {
		const struct raster *q = &bands[i % BANDS].raster;
		double hz = freq_to_hz(raster_centre(q, (int32_t)noise_between(&r, 1, q->count - 2)));
		hz += i % 9 == 8 ? 3000 * noise_uniform(&r) : 0;
		w[i].error_hz = 20 + 80 * noise_uniform(&r);
		w[i].hz = hz * (1 + 0.6e-6 * noise_normal(&r)) / (1 + ppm * 1e-6) + w[i].error_hz * noise_normal(&r);
		printf("witness %.6f %.6f\n", w[i].hz, w[i].error_hz);
	}
	crystal_judge(c, &wants, w, n, &v);
	return printf("told %d %.9f %.9f\n", v.word, v.ppm, v.error_ppm) < 0;
}

int main(void)
{
	struct crystal *c = crystal_create(bands, BANDS);

	if (!c)
		return 1;
	for (int i = 0; i < BANDS; i++)
		printf("band %.6f %.6f %d\n", freq_to_hz(bands[i].raster.first),
		       freq_to_hz(bands[i].raster.step), bands[i].raster.count);
	for (uint64_t seed = 1; seed <= CASES; seed++)
		if (play(c, seed))
			return 1;
	crystal_destroy(c);
	return 0;
}
