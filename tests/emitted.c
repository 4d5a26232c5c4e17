#include "tests/emitted.h"

#include <math.h>
#include <stdlib.h>

#include <liquid/liquid.h>

#include "tests/liquid_signals.h"

#define CLEAN { .emphasis = true, .share = 1 }
#define TONED { .emphasis = true, .share = 0.85, .tone_hz = 123, .tone = 0.15 }
#define CODED { .emphasis = true, .share = 0.85, .code = 023, .code_level = 0.15 }
#define PLAIN { .share = 0.85 }

/* Channels as wide as what is usual on their raster. Rates and shifts of the data are
 * common practice: pagers, trunking, digital voice of 6.25 and 12.5 kHz, ships' reports. */
const struct emitted emitted[] = {
	{ "carrier, 12.5 kHz", KIND_CARRIER, 9400, BY_CARRIER, 0, 0, 0, { 0 } },
	{ "carrier, 25 kHz", KIND_CARRIER, 16000, BY_CARRIER, 0, 0, 0, { 0 } },
	{ "AM voice, 25/3 kHz", KIND_AM, 7000, BY_AM, 0.85, 0, 0, PLAIN },
	{ "AM voice, 25 kHz", KIND_AM, 16000, BY_AM, 0.85, 0, 0, PLAIN },
	{ "weak AM voice, 25 kHz", KIND_AM, 16000, BY_AM, 0.5, 0, 0, PLAIN },
	{ "2.5 kHz FM voice", KIND_NFM, 9400, BY_FM, 2500, 0, 0, CLEAN },
	{ "2.5 kHz FM voice, 25 kHz", KIND_NFM, 16000, BY_FM, 2500, 0, 0, CLEAN },
	{ "5 kHz FM voice, 25 kHz", KIND_NFM, 16000, BY_FM, 5000, 0, 0, CLEAN },
	{ "5 kHz FM voice, 12.5 kHz", KIND_NFM, 12000, BY_FM, 5000, 0, 0, CLEAN },
	{ "2.5 kHz FM voice with tone", KIND_NFM, 9400, BY_FM, 2500, 0, 0, TONED },
	{ "5 kHz FM voice with tone", KIND_NFM, 16000, BY_FM, 5000, 0, 0, TONED },
	{ "2.5 kHz FM voice with code", KIND_NFM, 9400, BY_FM, 2500, 0, 0, CODED },
	{ "2FSK 2400 Bd", KIND_DATA, 9400, BY_FSK, 1200, 2400, 1, { 0 } },
	{ "2FSK 1200 Bd, 4.5 kHz", KIND_DATA, 16000, BY_FSK, 4500, 1200, 1, { 0 } },
	{ "2FSK 500 Bd, 4.5 kHz", KIND_DATA, 16000, BY_FSK, 4500, 500, 1, { 0 } },
	{ "4FSK 2400 Bd", KIND_DATA, 6000, BY_FSK, 1050, 2400, 2, { 0 } },
	{ "4FSK 2400 Bd, 12.5 kHz", KIND_DATA, 9400, BY_FSK, 1050, 2400, 2, { 0 } },
	{ "4FSK 4800 Bd", KIND_DATA, 9400, BY_FSK, 1944, 4800, 2, { 0 } },
	{ "4FSK 4800 Bd, 25 kHz", KIND_DATA, 16000, BY_FSK, 1944, 4800, 2, { 0 } },
	{ "GMSK 9600 Bd", KIND_DATA, 16000, BY_GMSK, 0, 9600, 1, { 0 } },
	{ "GMSK 4800 Bd", KIND_DATA, 9400, BY_GMSK, 0, 4800, 1, { 0 } },
	{ "1200 Bd on a subcarrier", KIND_DATA, 9400, BY_SUBCARRIER, 1500, 1200, 1, { 0 } },
	{ "four phases 16000 Bd", KIND_DATA, 18000, BY_PSK, 0, 16000, 2, { 0 } },
	{ "broadcast FM", KIND_WFM, 200000, BY_MUSIC, 50000, 0, 0, { 0 } },
	{ "noise", KIND_NOISE, 200000, BY_HASH, 0, 0, 0, { 0 } },
	{ "noise, 25 kHz", KIND_NOISE, 16000, BY_HASH, 0, 0, 0, { 0 } },
};
const int emitted_rows = sizeof emitted / sizeof emitted[0];

#define WIDE_HZ 240000

static double made_hz(const struct emitted *e)
{
	return e->by == BY_MUSIC || e->by == BY_HASH ? WIDE_HZ : SPOKEN_HZ;
}

static void make_am(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	float *audio = malloc(n * sizeof *audio);
	ampmodem m = ampmodem_create((float)e->deviation_hz, LIQUID_AMPMODEM_DSB, 0);

	spoken_make(&e->spoken, noise_bits(r), audio, n);
	ampmodem_modulate_block(m, audio, (unsigned)n, out);
	ampmodem_destroy(m);
	free(audio);
}

/* One sideband without its carrier. */
static void make_ssb(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	float *audio = malloc(n * sizeof *audio);
	ampmodem m = ampmodem_create(0.85f, LIQUID_AMPMODEM_USB, 1);

	spoken_make(&e->spoken, noise_bits(r), audio, n);
	ampmodem_modulate_block(m, audio, (unsigned)n, out);
	ampmodem_destroy(m);
	free(audio);
}

static void make_fm(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	float *audio = malloc(n * sizeof *audio);
	freqmod f = freqmod_create((float)(e->deviation_hz / SPOKEN_HZ));

	spoken_make(&e->spoken, noise_bits(r), audio, n);
	freqmod_modulate_block(f, audio, (unsigned)n, out);
	freqmod_destroy(f);
	free(audio);
}

static void make_fsk(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	fsk_make(r, &(struct fsk){ SPOKEN_HZ, e->baud, e->deviation_hz, (unsigned)e->bits }, out, n);
}

static void make_gmsk(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	unsigned k = (unsigned)(SPOKEN_HZ / e->baud);
	gmskmod m = gmskmod_create(k, 3, 0.4f);
	float complex *symbol = malloc(k * sizeof *symbol);

	for (size_t i = 0; i < n;) {
		gmskmod_modulate(m, (unsigned)noise_between(r, 0, 1), symbol);
		for (unsigned s = 0; s < k && i < n; s++)
			out[i++] = symbol[s];
	}
	free(symbol);
	gmskmod_destroy(m);
}

/* Two audio tones, 1200 and 1800 Hz, without a jump in phase, upon FM. */
static void make_subcarrier(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	freqmod f = freqmod_create((float)(e->deviation_hz / SPOKEN_HZ));
	double phase = 0, hz = 1200;

	for (size_t i = 0; i < n; i++) {
		if (i % (size_t)(SPOKEN_HZ / e->baud) == 0)
			hz = noise_between(r, 0, 1) ? 1200 : 1800;
		phase += 2 * M_PI * hz / SPOKEN_HZ;
		freqmod_modulate(f, (float)sin(phase), &out[i]);
	}
	freqmod_destroy(f);
}

static void make_psk(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	unsigned k = (unsigned)(SPOKEN_HZ / e->baud);
	firinterp_crcf q = firinterp_crcf_create_prototype(LIQUID_FIRFILT_RRC, k, 8, 0.35f, 0);
	float complex symbol[64];

	for (size_t i = 0; i < n;) {
		float complex x = cexpf(I * (float)(M_PI / 2) * (float)noise_between(r, 0, 3));
		firinterp_crcf_execute(q, x, symbol);
		for (unsigned s = 0; s < k && i < n; s++)
			out[i++] = symbol[s];
	}
	firinterp_crcf_destroy(q);
}

/* Noise up to 15 kHz that grows louder and softer, and the pilot of a stereo sender. */
static void make_music(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	freqmod f = freqmod_create((float)(e->deviation_hz / WIDE_HZ));
	iirfilt_rrrf lid = iirfilt_rrrf_create_prototype(LIQUID_IIRDES_BUTTER, LIQUID_IIRDES_LOWPASS,
							 LIQUID_IIRDES_SOS, 4, 15000.f / WIDE_HZ, 0.1f, 1,
							 60);
	double beat = noise_uniform(r);

	for (size_t i = 0; i < n; i++) {
		double t = (double)i / WIDE_HZ, loud = 0.6 + 0.4 * sin(2 * M_PI * (beat + 2 * t));
		float y;
		iirfilt_rrrf_execute(lid, (float)(noise_uniform(r) + noise_uniform(r) - 1), &y);
		double v = 2 * loud * y + 0.1 * sin(2 * M_PI * 19000 * t);
		freqmod_modulate(f, (float)fmax(fmin(v, 1), -1), &out[i]);
	}
	iirfilt_rrrf_destroy(lid);
	freqmod_destroy(f);
}

static void make_keying(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	float level = 0, on = 0;

	for (size_t i = 0; i < n; i++) {
		if (i % (size_t)(SPOKEN_HZ / e->baud) == 0)
			on = (float)noise_between(r, 0, 1);
		level += (on - level) * 0.1f;
		out[i] = level;
	}
}

static void make(struct noise *r, const struct emitted *e, float complex *out, size_t n)
{
	static void (*const how[])(struct noise *, const struct emitted *, float complex *, size_t) = {
		[BY_AM] = make_am, [BY_FM] = make_fm, [BY_FSK] = make_fsk, [BY_GMSK] = make_gmsk,
		[BY_SUBCARRIER] = make_subcarrier, [BY_PSK] = make_psk, [BY_MUSIC] = make_music,
		[BY_KEYING] = make_keying, [BY_SSB] = make_ssb,
	};

	for (size_t i = 0; i < n; i++)
		out[i] = e->by == BY_CARRIER;
	if (e->by == BY_HASH)
		noise_add(r, out, n, 1);
	else if (e->by != BY_CARRIER)
		how[e->by](r, e, out, n);
}

void emitted_add(float complex *iq, size_t n, double rate, const struct emitted *e, double power,
		 double hz, uint64_t seed)
{
	struct noise r = { seed };
	unsigned by = (unsigned)(rate / made_hz(e)), reach = 10;
	/* Modulators' and interpolator's own starts are left out. */
	size_t low = n / by + 2 * reach + 202, skip = (2 * reach + 200) * by;
	float complex *made = malloc(low * sizeof *made), *fast = malloc(low * by * sizeof *fast);
	firinterp_crcf q = firinterp_crcf_create_kaiser(by, reach, 80);
	double complex at = cexp(2 * I * M_PI * noise_uniform(&r)), turn = cexp(2 * I * M_PI * hz / rate);
	double mean = 0;

	if (!made || !fast || !q)
		abort();
	make(&r, e, made, low);
	firinterp_crcf_execute_block(q, made, (unsigned)low, fast);
	for (size_t i = skip; i < skip + n; i++)
		mean += pow(cabsf(fast[i]), 2) / (double)n;
	/* Of hash, which is white up to half of what it was made at, that much in the channel. */
	if (e->by == BY_HASH)
		mean *= e->channel_hz / WIDE_HZ;
	at *= sqrt(power / mean);
	for (size_t i = 0; i < n; i++, at *= turn)
		iq[i] += fast[skip + i] * (float complex)at;
	firinterp_crcf_destroy(q);
	free(fast);
	free(made);
}
