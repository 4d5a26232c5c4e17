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
	/* Laplace's rule of succession: three overs that agree are not yet certainty. */
	*confidence = (ayes + 1.0) / (of + 2.0);
	return bare ? KIND_CARRIER : best;
}

#define NAMED     0.6           /* confidence from which a kind is named                  */
#define WIDE_HZ   60000.0       /* wider than any narrow-band service's emission          */
#define BROAD_HZ  40000.0       /* broadcast FM that is soft for a while                  */
#define SHALLOW   0.012         /* AM of a depth of 0.11 by one tone: less is none        */
#define STEADY_HZ 60.0          /* a line keeps its place; that of slow keying does not      */
#define FILLED    0.25          /* flatness over the whole channel: one sideband has 0.1  */
#define KEYED     0.65          /* no speech gets here, a carrier keyed on and off does   */
#define PAUSE_S   0.4           /* pauses in speech longer than t are exp(-t / that)      */
#define PAUSED    0.75          /* speech, met at some time, pauses no more often         */
#define BARE      0.97          /* share of a carrier's power in its line, without noise  */
#define CLEAR     8.0           /* SNR from which that share is known                     */
#define FITFUL    0.1           /* share of frames broken off                             */
#define EDGY      0.05          /* more of them than an over's own ends                   */
#define CARRIED	  0.75 /* AM leaves its carrier more of the power: speech to a depth of 1 */
#define NOT_SURE  0.85
#define SOFT      0.65          /* confidence in speech so soft that a line is left       */
#define TAIL_HZ   560.0         /* swing of a tone of 750 Hz peak and a little            */
#define MANY      40            /* frames after which only the SNR leaves doubts          */
#define LITTLE    0.6           /* odds, as a logarithm, that one frame gives at the most */
#define LEANING   0.15          /* those from which a few frames are given a name          */
#define SURELY    2.2           /* those of a confidence of 0.9                           */

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
	z *= fmin(f->snr / 8, 1);
	double most = n < MANY ? LITTLE + (SURELY - LITTLE) * n / MANY : INFINITY;
	z = fmax(fmin(z, most), -most);
	/* A repeater's tail with a tone below speech and no speech. */
	if (z > 0 && f->swing_hz < TAIL_HZ)
		return (struct word){ n < MANY ? KIND_NFM : KIND_UNKNOWN, SOFT };
	double sure = 1 / (1 + exp(-fabs(z)));
	/* A few frames that lean to either side are right more often than the weights say. */
	return (struct word){ z > 0 ? KIND_DATA : KIND_NFM,
			      n < MANY && fabs(z) > LEANING ? fmax(sure, NAMED) : sure };
}

static struct word modulated_word(const struct features *f, double modulated)
{
	double n = modulated * f->frames, z = (f->envelope - 0.05) / fmax(f->envelope_sd, 0.005);

	if (f->envelope > 0.6 && f->fill > 0.75)
		return (struct word){ KIND_NOISE,
				      agreed(n) * normal((f->envelope - 0.6) * sqrt(20 * n)) };
	/* Phase keying shaped to a narrow width: its power goes up and down, its swing not. */
	if (modulated > 0.9 && z > 2 && f->wander < 0.13 && f->flatness > 0.5 && f->fill > FILLED)
		return (struct word){ KIND_DATA, agreed(n) * normal(z) };
	if (z > 3 && f->envelope > 0.15)
		return (struct word){ KIND_UNKNOWN, 0 };
	return keyed_or_spoken(f, modulated);
}

static struct word line_word(const struct features *f)
{
	double z = (f->depth - SHALLOW) / f->depth_sd, bare = BARE - 0.5 / f->snr;
	double least = fmax(2 - 2.0 * f->frames / MANY, 0); /* of few frames one in fifty errs */

	/* Or one sideband, whose strongest tone is taken for the line. */
	if (f->depth > KEYED)
		return (struct word){ KIND_DATA,
				      fmin(agreed(f->frames) * normal((f->depth - KEYED) * 10),
					   NOT_SURE) };
	/* A carrier comes and goes when it is keyed or fades: neither AM nor bare for sure. */
	if (f->broken > FITFUL)
		return (struct word){ KIND_UNKNOWN, 0 };
	/* The edge of a key looks like depth, but not without others that break off. */
	if (z > least)
		return (struct word){ KIND_AM,
				      fmin(agreed(f->frames) * normal(z),
					   f->broken > EDGY || f->line < CARRIED ? NOT_SURE : 1) };
	if (z > 0 || f->hopping_hz > STEADY_HZ || (f->line < bare && f->snr < CLEAR))
		return (struct word){ KIND_UNKNOWN, 0 };
	/* Its power keeps still, but is not all in the line: little modulation of frequency. A
	 * single frame of slow keying looks the same. */
	if (f->line < bare)
		return (struct word){ f->frames > 1 ? KIND_NFM : KIND_UNKNOWN, SOFT };
	/* Both AM and FM are bare while nobody speaks. A channel's overs together tell that
	 * (votes_kind), so it is named, but sure only after many visits or a long one. */
	double paused = pow(PAUSED, f->visits - 1) * exp(-f->seconds / f->visits / PAUSE_S);
	return (struct word){ KIND_CARRIER, fmax(normal(-z) * (1 - paused), NAMED) };
}

static struct word wide_word(const struct features *f)
{
	if (f->width_hz < BROAD_HZ)
		return (struct word){ KIND_UNKNOWN, 0 };
	if (f->envelope > 0.6 && f->lined < 0.1)
		return (struct word){ KIND_NOISE, agreed(f->frames) };
	return (struct word){ f->envelope < 0.3 ? KIND_WFM : KIND_UNKNOWN, agreed(f->frames) };
}

/* What was bare at all visits but one or two is speech that paused, not a carrier. */
static struct word narrow_word(const struct features *f)
{
	double modulated = 1 - f->lined;

	if (modulated > 0.1 || (modulated * f->frames > 1.5 && f->depth < KEYED / 2))
		return modulated_word(f, modulated);
	struct word w = line_word(f);
	return w.kind == KIND_CARRIER && f->visits > 1 && modulated > 0 ?
		       modulated_word(f, modulated) :
		       w;
}

enum kind features_kind(const struct features *f, double pass_hz, double *confidence)
{
	struct word w = { KIND_UNKNOWN, 0 };

	if (f->frames > 0 && pass_hz > WIDE_HZ)
		w = wide_word(f);
	else if (f->broken > 0.5)
		w = (struct word){ KIND_DATA, f->frames > 10 ? 0.8 : 0 };
	else if (f->frames > 0)
		w = narrow_word(f);
	*confidence = w.confidence;
	return w.confidence < NAMED ? KIND_UNKNOWN : w.kind;
}
