#include "tests/liquid_signals.h"

#include <math.h>
#include <stdlib.h>

#include <liquid/liquid.h>

#include "tests/noise.h"

/* How each is made. */
static const struct recipe {
	const char  *name;
	double       rate_hz;           /* made at this, then interpolated            */
	double       deviation_hz;      /* peak for FM; one sided outer shift for FSK */
	double       baud;
	unsigned     bits;
} recipes[SIGNALS] = {
	[SIGNAL_CARRIER]  = { "carrier",          24000,  0,     0,    0 },
	[SIGNAL_AM]       = { "AM voice",         24000,  0,     0,    0 },
	[SIGNAL_NFM]      = { "2.5 kHz FM voice", 48000,  2500,  0,    0 },
	[SIGNAL_NFM_WIDE] = { "5 kHz FM voice",   48000,  5000,  0,    0 },
	[SIGNAL_2FSK]     = { "2FSK",             48000,  1200,  2400, 1 },
	[SIGNAL_4FSK]     = { "4FSK",             48000,  1944,  4800, 2 },
	[SIGNAL_WFM]      = { "broadcast FM",     240000, 50000, 0,    0 },
};

const char *signal_name(enum signal s)
{
	return recipes[s].name;
}

/* Voice-like audio, peaks near 1: noise between two frequencies, strongest amid them
 * on a scale of octaves, under an envelope of syllables. */
static void voice(struct noise *r, float *audio, size_t n, double rate, double low, double high)
{
	unsigned order = 4;
	iirfilt_rrrf band = iirfilt_rrrf_create_prototype(
		LIQUID_IIRDES_BUTTER, LIQUID_IIRDES_BANDPASS, LIQUID_IIRDES_SOS, order / 2,
		(float)((high - low) / rate / 2), (float)(sqrt(high * low) / rate), 1, 60);
	iirfilt_rrrf lid = iirfilt_rrrf_create_prototype(LIQUID_IIRDES_BUTTER, LIQUID_IIRDES_LOWPASS,
							 LIQUID_IIRDES_SOS, 6,
							 (float)(high / rate), 0.1f, 1, 60);
	double syllable = 2 * M_PI * noise_uniform(r), square = 0;
	size_t settle = (size_t)(0.02 * rate);

	for (size_t i = 0; i < n + settle; i++) {
		float y;
		iirfilt_rrrf_execute(band, (float)(noise_uniform(r) + noise_uniform(r) +
						   noise_uniform(r) - 1.5), &y);
		iirfilt_rrrf_execute(lid, y, &y);
		/* Four syllables a second that never fall quite silent. */
		double envelope = 0.6 + 0.4 * sin(syllable + 2 * M_PI * 4 * (double)i / rate);
		if (i < settle)
			continue;
		audio[i - settle] = y * (float)envelope;
		square += (double)(y * y) / (double)n;
	}
	/* The loudest syllables stand 8 dB below the limiter, as is common practice. */
	for (size_t i = 0; i < n; i++) {
		float v = audio[i] * 0.4f / (float)sqrt(square);
		audio[i] = v > 1 ? 1 : v < -1 ? -1 : v;
	}
	iirfilt_rrrf_destroy(band);
	iirfilt_rrrf_destroy(lid);
}

static void make_fm(struct noise *r, const struct recipe *c, float complex *out, size_t n)
{
	float *audio = malloc(n * sizeof *audio);
	freqmod f = freqmod_create((float)(c->deviation_hz / c->rate_hz));

	if (!audio || !f)
		abort();
	voice(r, audio, n, c->rate_hz, c->deviation_hz > 20000 ? 50 : 300,
	      c->deviation_hz > 20000 ? 15000 : 3000);
	freqmod_modulate_block(f, audio, (unsigned)n, out);
	freqmod_destroy(f);
	free(audio);
}

static void make_am(struct noise *r, const struct recipe *c, float complex *out, size_t n)
{
	float *audio = malloc(n * sizeof *audio);
	ampmodem m = ampmodem_create(0.85f, LIQUID_AMPMODEM_DSB, 0);

	if (!audio || !m)
		abort();
	voice(r, audio, n, c->rate_hz, 300, 2700);
	ampmodem_modulate_block(m, audio, (unsigned)n, out);
	ampmodem_destroy(m);
	free(audio);
}

void fsk_make(struct noise *r, const struct fsk *c, float complex *out, size_t n)
{
	unsigned k = (unsigned)(c->rate_hz / c->baud);
	unsigned levels = 1u << c->bits;
	/* Outer levels are (levels - 1) * h * baud / 2 from the middle. */
	float h = (float)(2 * c->deviation_hz / c->baud / (levels - 1));
	cpfskmod m = cpfskmod_create(c->bits, h, k, 3, 0.3f, LIQUID_CPFSK_RCOS_PARTIAL);
	float complex *symbol = malloc(k * sizeof *symbol);

	if (!m || !symbol)
		abort();
	for (size_t i = 0, skip = 8; i < n;) {
		cpfskmod_modulate(m, (unsigned)noise_between(r, 0, levels - 1), symbol);
		if (skip && skip--)
			continue;
		for (unsigned s = 0; s < k && i < n; s++)
			out[i++] = symbol[s];
	}
	free(symbol);
	cpfskmod_destroy(m);
}

static void make(struct noise *r, enum signal s, float complex *out, size_t n)
{
	const struct recipe *c = &recipes[s];

	if (s == SIGNAL_AM)
		make_am(r, c, out, n);
	else if (c->baud > 0)
		fsk_make(r, &(struct fsk){ c->rate_hz, c->baud, c->deviation_hz, c->bits }, out, n);
	else if (c->deviation_hz > 0)
		make_fm(r, c, out, n);
	else
		for (size_t i = 0; i < n; i++)
			out[i] = 1;
}

static void scale(float complex *x, size_t n, double power)
{
	double mean = 0;

	for (size_t i = 0; i < n; i++)
		mean += (double)(crealf(x[i]) * crealf(x[i]) + cimagf(x[i]) * cimagf(x[i])) / (double)n;
	float by = (float)sqrt(power / mean);
	for (size_t i = 0; i < n; i++)
		x[i] *= by;
}

void signal_add(float complex *iq, size_t n, double rate, enum signal s, double power, double hz,
		uint64_t seed)
{
	struct noise r = { seed };
	unsigned by = (unsigned)(rate / recipes[s].rate_hz), reach = 10;
	/* The interpolator's own start is left out. */
	size_t low = n / by + 2 * reach + 2, skip = 2 * reach * by;
	float complex *made = malloc(low * sizeof *made), *fast = malloc(low * by * sizeof *fast);
	firinterp_crcf q = firinterp_crcf_create_kaiser(by, reach, 80);
	double complex at = cexp(2 * I * M_PI * noise_uniform(&r)), turn = cexp(2 * I * M_PI * hz / rate);

	if (!made || !fast || !q)
		abort();
	make(&r, s, made, low);
	firinterp_crcf_execute_block(q, made, (unsigned)low, fast);
	scale(fast + skip, n, power);
	for (size_t i = 0; i < n; i++, at *= turn)
		iq[i] += fast[skip + i] * (float complex)at;
	firinterp_crcf_destroy(q);
	free(fast);
	free(made);
}
