/* Measures liquid-dsp on samples that bench_chain wrote.
 *
 * bench_liquid SAMPLES PAIRS_A_LOOK PASSES     lines "CONTENDER BINS NS_A_SAMPLE" (CPU time)
 *
 * The samples are made floats beforehand: converting bytes is not counted. */
#include <complex.h>
#include <liquid/liquid.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define CHANNELS    192         /* of 12.5 kHz in 2.4 MS/s                           */
#define DELAY       5           /* symbols: a prototype as long as a window of 1920  */
#define DOWN_DB     60.0f
#define LOOKS       12          /* a pass                                            */

struct samples {
	float complex *iq;
	size_t         n;
	unsigned       look;            /* pairs a look */
};

static double cpu_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
	return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

static int samples_read(struct samples *s, const char *path, unsigned look)
{
	FILE *f = fopen(path, "rb");
	size_t room = (size_t)look * LOOKS;
	uint8_t *bytes = malloc(2 * room);
	int result = -1;

	s->look = look;
	s->n = room;
	s->iq = malloc(room * sizeof *s->iq);
	if (!f || !bytes || !s->iq || fread(bytes, 2, room, f) != room)
		goto done;
	for (size_t i = 0; i < room; i++)
		s->iq[i] = ((float)bytes[2 * i] - 127.5f) / 127.5f +
			   I * (((float)bytes[2 * i + 1] - 127.5f) / 127.5f);
	result = 0;
done:
	free(bytes);
	if (f)
		fclose(f);
	return result;
}

/* Kaiser's window (its beta is the library's own), half overlap, a mean a look. */
static void time_spgram(const struct samples *s, unsigned bins)
{
	spgramcf q = spgramcf_create(bins, LIQUID_WINDOW_KAISER, bins, bins / 2);
	float *power = malloc(bins * sizeof *power);
	double begun = cpu_ns();

	for (size_t at = 0; at < s->n; at += s->look) {
		spgramcf_clear(q);
		spgramcf_write(q, s->iq + at, s->look);
		spgramcf_get_psd_mag(q, power);
	}
	printf("spgramcf %u %.4f\n", bins, (cpu_ns() - begun) / (double)s->n);
	free(power);
	spgramcf_destroy(q);
}

/* Channels as samples; their powers are not even taken. */
static void time_channels(const struct samples *s)
{
	firpfbch_crcf q = firpfbch_crcf_create_kaiser(LIQUID_ANALYZER, CHANNELS, DELAY, DOWN_DB);
	float complex out[CHANNELS];
	double begun = cpu_ns();

	for (size_t at = 0; at + CHANNELS <= s->n; at += CHANNELS)
		firpfbch_crcf_analyzer_execute(q, s->iq + at, out);
	printf("firpfbch %d %.4f\n", CHANNELS, (cpu_ns() - begun) / (double)s->n);
	firpfbch_crcf_destroy(q);
}

int main(int argc, char **argv)
{
	struct samples s = { 0 };

	if (argc != 4)
		return 2;
	if (samples_read(&s, argv[1], (unsigned)atoi(argv[2])) < 0) {
		fprintf(stderr, "bench_liquid: %s: too short, or can't be read\n", argv[1]);
		free(s.iq);
		return 1;
	}
	for (int pass = 0; pass < atoi(argv[3]); pass++) {
		time_spgram(&s, 1920);
		time_spgram(&s, 3840);
		time_channels(&s);
	}
	free(s.iq);
	return 0;
}
