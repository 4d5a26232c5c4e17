#include "dsp/emission.h"

#include <math.h>

#include "dsp/sketch.h"

const char *kind_name(enum kind k)
{
	static const char *const names[KIND_COUNT] = {
		"unknown", "carrier", "am", "nfm", "wfm", "data", "noise",
	};
	return (unsigned)k < KIND_COUNT ? names[k] : names[KIND_UNKNOWN];
}

enum kind traits_kind(const struct traits *t)
{
	if (t->snr < 6.3)
		return KIND_UNKNOWN;
	if (t->line > 0.5 && t->envelope > 0.04)
		return KIND_AM;
	if (t->line > 0.8)
		return KIND_CARRIER;
	/* A few levels, a filled spectrum, and more swing than a lone tone: nearly every
	 * look at keying says so, and hardly one in twenty at a voice. */
	if (t->kurtosis < 2.25 && t->flatness > 0.3 && t->swing_hz > 550)
		return KIND_DATA;
	return KIND_NFM;
}

#define MODULATED_SHARE 0.15    /* of the votes: then the bare looks were pauses */

enum kind votes_kind(const struct votes *v, double *confidence)
{
	int all = 0, modulated = 0;
	enum kind best = KIND_AM;

	for (int k = KIND_CARRIER; k < KIND_COUNT; k++) {
		all += v->n[k];
		if (k == KIND_CARRIER)
			continue;
		modulated += v->n[k];
		if (v->n[k] > v->n[best])
			best = (enum kind)k;
	}
	*confidence = 0;
	if (all == 0)
		return KIND_UNKNOWN;
	bool bare = modulated <= MODULATED_SHARE * all;
	int of = bare ? all : modulated, ayes = bare ? v->n[KIND_CARRIER] : v->n[best];
	/* Laplace's rule of succession: three looks that agree are not yet certainty. */
	*confidence = (ayes + 1.0) / (of + 2.0);
	return bare ? KIND_CARRIER : best;
}

#define NAMED     0.6           /* confidence from which a kind is named                  */
#define WIDE_HZ   60000.0       /* wider than any narrow-band service's emission          */
#define BROAD_HZ  40000.0       /* broadcast FM that is soft for a while                  */
#define SHALLOW   0.012         /* AM of a depth of 0.11 by one tone: less is none        */
#define KEYED     0.65          /* no speech gets here, a carrier keyed on and off does   */
#define PAUSE_S   0.4           /* pauses in speech longer than t are exp(-t / that)      */
#define TAIL_HZ   560.0         /* swing of a tone of 750 Hz peak and a little            */
#define MANY      40            /* frames after which only the SNR leaves doubts          */

static double normal(double z)
{
	return 0.5 * erfc(-z * M_SQRT1_2);
}

/* Laplace's rule of succession. */
static double agreed(double frames)
{
	return (frames + 1) / (frames + 2);
}

struct word {
	enum kind kind;
	double    confidence;
};

/* Logistic regression of frequency modulation: keyed or spoken. Few levels and a filled
 * spectrum speak for keying; swing that comes and goes, and pauses, for speech. The weights
 * are fitted to liquid-dsp's modulators and espeak-ng's speech, 6 to 30 dB, 16 ms to 3 s. */
static struct word keyed_or_spoken(const struct features *f, double modulated)
{
	double n = fmax(modulated * f->frames, 1);
	double kurtosis = fmin(fmax(f->kurtosis, 1), 5) - 2.3;
	double flatness = fmin(f->flatness, 1.1) - 0.75, wander = fmin(f->wander, 0.5) - 0.13;
	double z = -0.28 - (2.27 + 0.5 * log(n)) * kurtosis + (0.92 * log(n) - 0.76) * flatness -
		   31 * wander * (n - 1) / (n + 3) - 1.9 * f->lined;

	/* Little of it, or much noise, and it is less than that. */
	z *= fmin(n / MANY, 1) * fmin(f->snr / 8, 1);
	/* A repeater's tail with a tone below speech and no speech. */
	if (z > 0 && f->swing_hz < TAIL_HZ)
		return (struct word){ KIND_UNKNOWN, 0 };
	return (struct word){ z > 0 ? KIND_DATA : KIND_NFM, 1 / (1 + exp(-fabs(z))) };
}

static struct word modulated_word(const struct features *f, double modulated)
{
	double n = modulated * f->frames, z = (f->envelope - 0.05) / fmax(f->envelope_sd, 0.005);

	if (f->envelope > 0.6 && f->fill > 0.75)
		return (struct word){ KIND_NOISE, agreed(n) * normal((f->envelope - 0.6) * sqrt(20 * n)) };
	/* Phase keying shaped to a narrow width: its power goes up and down, its swing not. */
	if (modulated > 0.9 && z > 2 && f->wander < 0.13 && f->flatness > 0.5)
		return (struct word){ KIND_DATA, agreed(n) * normal(z) };
	if (z > 3 && f->envelope > 0.15)
		return (struct word){ KIND_UNKNOWN, 0 };
	return keyed_or_spoken(f, modulated);
}

static struct word line_word(const struct features *f)
{
	double z = (f->depth - SHALLOW) / f->depth_sd;

	if (f->depth > KEYED)
		return (struct word){ KIND_DATA, agreed(f->frames) * normal((f->depth - KEYED) * 10) };
	if (z > 0)
		return (struct word){ KIND_AM, agreed(f->frames) * normal(z) };
	/* Both AM and FM are bare while nobody speaks. */
	return (struct word){ KIND_CARRIER, normal(-z) * (1 - exp(-f->seconds / PAUSE_S)) };
}

static struct word wide_word(const struct features *f)
{
	if (f->width_hz < BROAD_HZ)
		return (struct word){ KIND_UNKNOWN, 0 };
	if (f->envelope > 0.6 && f->lined < 0.1)
		return (struct word){ KIND_NOISE, agreed(f->frames) };
	return (struct word){ f->envelope < 0.3 ? KIND_WFM : KIND_UNKNOWN, agreed(f->frames) };
}

enum kind features_kind(const struct features *f, double pass_hz, double *confidence)
{
	struct word w = { KIND_UNKNOWN, 0 };
	double modulated = 1 - f->lined;

	if (f->frames > 0 && pass_hz > WIDE_HZ)
		w = wide_word(f);
	else if (f->broken > 0.5)
		w = (struct word){ KIND_DATA, f->frames > 10 ? 0.8 : 0 };
	else if (f->frames > 0 && (modulated > 0.1 || (modulated * f->frames > 1.5 && f->depth < KEYED / 2)))
		w = modulated_word(f, modulated);
	else if (f->frames > 0)
		w = line_word(f);
	*confidence = w.confidence;
	return w.confidence < NAMED ? KIND_UNKNOWN : w.kind;
}
