#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "dsp/discriminator.h"
#include "dsp/zoom.h"
#include "tests/noise.h"
#include "tests/outside/hand_over.h"

#define RATE 2400000
#define N    960000
#define LOOK 48000

/* Writes seeded bytes as a dongle would send them to FOLDER/iq.u8: FM by three tones
 * 300 kHz below the centre, a stronger neighbour, noise; and to FOLDER/hz.f32 what zoom
 * and discriminator make of it, look by look, for another program to check. */

static void make(float complex *iq)
{
	double phase = 0;

	noise_add(&(struct noise){ 30 }, iq, N, 1e-4);
	tone_add(iq, N, 0.04, -285000, RATE, 1);
	for (size_t i = 0; i < N; i++) {
		double t = 2 * M_PI * (double)i / RATE;
		double hz = 1500 * sin(400 * t) + 800 * sin(1100 * t + 1) + 300 * sin(100 * t);
		phase += 2 * M_PI * (hz - 300000) / RATE;
		iq[i] += (float complex)(0.1 * cexp(I * phase));
	}
}

int main(int argc, char **argv)
{
	if (argc != 2)
		return 2;
	float complex *iq = calloc(N, sizeof *iq);
	uint8_t *bytes = malloc(2 * N);
	float *hz = malloc(N / 90 * sizeof *hz);
	struct reel *reel = reel_create(RATE, LOOK);
	struct zoom *zoom = zoom_create(RATE, LOOK, ZOOM_NARROW_HZ);
	struct discriminator d = { 0 };
	size_t got = 0;
	int failed = 1;
	if (!iq || !bytes || !hz || !reel || !zoom)
		goto fail;
	make(iq);
	bytes_from(iq, N, bytes);
	zoom_aim(zoom, -300000, 16000);
	for (size_t at = 0; at < N; at += LOOK) {
		reel_load(reel, &(struct block){ .iq = bytes + 2 * at, .format = SAMPLE_CU8, .n = LOOK });
		size_t n = zoom_draw(zoom, reel, 0, LOOK);
		discriminator_feed(&d, zoom_out(zoom), n, zoom_rate(zoom), hz + got);
		got += n;
	}
	printf("%.6f\n", zoom_rate(zoom));
	failed = hand_over(argv[1], "iq.u8", bytes, 1, 2 * N) ||
		 hand_over(argv[1], "hz.f32", hz, sizeof *hz, got);
fail:
	zoom_destroy(zoom);
	reel_destroy(reel);
	free(hz);
	free(bytes);
	free(iq);
	return failed;
}
