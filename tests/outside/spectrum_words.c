#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "dsp/spectrum.h"
#include "tests/noise.h"
#include "tests/outside/hand_over.h"

#define RATE 2400000
#define N    240000

/* Writes seeded bytes as a dongle would send them to FOLDER/iq.u8 and what
 * dsp/spectrum makes of them to FOLDER/power.f64, with the window in
 * FOLDER/window.f32, for another program to check. */

int main(int argc, char **argv)
{
	if (argc != 4)
		return 2;
	int bins = atoi(argv[2]), hop = atoi(argv[3]);
	int transforms = (N - bins) / hop + 1, failed = 1;
	struct spectrum *s = spectrum_create(bins, hop, WINDOW_KAISER, WINDOW_BETA);
	float complex *iq = calloc(N, sizeof *iq);
	uint8_t *bytes = malloc(2 * N);
	float *sum = calloc((size_t)bins, sizeof *sum);
	double *mean = calloc((size_t)bins, sizeof *mean);
	if (!s || !iq || !bytes || !sum || !mean)
		goto fail;
	noise_add(&(struct noise){ 20 }, iq, N, 0.005);
	tone_add(iq, N, 0.02, 123456.7, RATE, 1);
	tone_add(iq, N, 0.001, -654321.0, RATE, 2);
	bytes_from(iq, N, bytes);
	spectrum_add(s, &(struct block){ .iq = bytes, .format = SAMPLE_CU8, .n = N }, 0, transforms, 0,
		     sum);
	for (int k = 0; k < bins; k++)
		mean[k] = (double)sum[k] / transforms;
	failed = hand_over(argv[1], "iq.u8", bytes, 1, 2 * N) ||
		 hand_over(argv[1], "power.f64", mean, sizeof *mean, (size_t)bins) ||
		 hand_over(argv[1], "window.f32", spectrum_window(s), sizeof(float), (size_t)bins);
fail:
	free(mean);
	free(sum);
	free(bytes);
	free(iq);
	spectrum_destroy(s);
	return failed;
}
