#include "dsp/subtone.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/lowpass.h"

const char *below_name(enum below b)
{
	static const char *const names[BELOW_COUNT] = { "unknown", "nothing", "tone", "code" };

	return (unsigned)b < BELOW_COUNT ? names[b] : names[BELOW_UNKNOWN];
}

#define LOW_HZ    1000          /* rate that tones are looked for at, about              */
#define PASS_HZ   257.0         /* the highest tone and a little                         */
#define STOP_HZ   330.0         /* speech begins at 300                                  */
#define PIECE_S   0.8           /* a tone a third of a percent off still fits            */
#define LEAST_S   0.34          /* the filter takes the first 0.06 s of an over          */
#define PEAK_HZ   120           /* 250 Hz are the least in use (common practice)         */
#define OFF       0.005         /* of a tone's frequency: nearer than any neighbour      */

struct subtone {
	double rate_hz;
	int    by, taps;
	float *tap;
	float *held;                    /* [taps + by]: not yet filtered               */
	int    n_held;
	float *piece;                   /* [size] at the low rate                      */
	int    n, size;
	int    pieces;
	double seconds;
	double power;                   /* below speech, sum over pieces               */
	double tone[TONES], code[CODES];/* explained, sums over pieces                 */
	double hz[TONES];               /* where it was found, weighted by that power  */
	double weight[TONES];
};

static double low_hz(const struct subtone *s)
{
	return s->rate_hz / s->by;
}

struct subtone *subtone_create(double rate_hz)
{
	struct subtone *s = calloc(1, sizeof *s);
	if (!s)
		return NULL;
	s->rate_hz = rate_hz;
	s->by = (int)rint(rate_hz / LOW_HZ);
	s->taps = lowpass_taps(PASS_HZ, STOP_HZ, rate_hz);
	s->size = (int)(PIECE_S * low_hz(s));
	s->tap = malloc((size_t)s->taps * sizeof *s->tap);
	s->held = malloc((size_t)(s->taps + s->by) * sizeof *s->held);
	s->piece = malloc((size_t)s->size * sizeof *s->piece);
	if (!s->tap || !s->held || !s->piece) {
		subtone_destroy(s);
		return NULL;
	}
	lowpass_fill(s->tap, s->taps, 0.5 * (PASS_HZ + STOP_HZ), rate_hz);
	return s;
}

void subtone_destroy(struct subtone *s)
{
	if (!s)
		return;
	free(s->tap);
	free(s->held);
	free(s->piece);
	free(s);
}

void subtone_reset(struct subtone *s)
{
	s->n_held = s->n = s->pieces = 0;
	s->seconds = s->power = 0;
	memset(s->tone, 0, sizeof s->tone);
	memset(s->code, 0, sizeof s->code);
	memset(s->hz, 0, sizeof s->hz);
	memset(s->weight, 0, sizeof s->weight);
}

/* What n values at the low rate say is added to the sums. */
static void add_piece(struct subtone *s)
{
	double tone[TONES], code[CODES], mean = 0, square = 0;
	struct tone_fit fit = tone_fit(s->piece, s->n, low_hz(s), tone);

	code_fit(s->piece, s->n, low_hz(s), code);
	for (int i = 0; i < s->n; i++) {
		mean += s->piece[i] / (double)s->n;
		square += (double)s->piece[i] * s->piece[i] / s->n;
	}
	s->power += (square - mean * mean) * s->n;
	for (int k = 0; k < TONES; k++)
		s->tone[k] += tone[k] * s->n;
	for (int k = 0; k < CODES; k++)
		s->code[k] += code[k] * s->n;
	s->hz[fit.best] += fit.hz * tone[fit.best] * s->n;
	s->weight[fit.best] += tone[fit.best] * s->n;
	s->seconds += s->n / low_hz(s);
	s->pieces++;
	s->n = 0;
}

static float filter(const float *x, const float *tap, int n)
{
	float a = 0, b = 0, c = 0, d = 0;
	int i = 0;

	for (; i + 3 < n; i += 4) {
		a += x[i] * tap[i];
		b += x[i + 1] * tap[i + 1];
		c += x[i + 2] * tap[i + 2];
		d += x[i + 3] * tap[i + 3];
	}
	for (; i < n; i++)
		a += x[i] * tap[i];
	return (a + b) + (c + d);
}

void subtone_feed(struct subtone *s, const float *hz, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		s->held[s->n_held++] = hz[i];
		if (s->n_held < s->taps)
			continue;
		s->piece[s->n++] = filter(s->held, s->tap, s->taps);
		s->n_held -= s->by;
		memmove(s->held, s->held + s->by, (size_t)s->n_held * sizeof *s->held);
		if (s->n == s->size)
			add_piece(s);
	}
}

void subtone_cut(struct subtone *s)
{
	if (s->n >= LEAST_S * low_hz(s))
		add_piece(s);
	s->n = s->n_held = 0;
}

static int largest(const double *x, int n)
{
	int best = 0;
	for (int k = 1; k < n; k++)
		best = x[k] > x[best] ? k : best;
	return best;
}

/* The share that must be explained: speech has pieces that look like a tone, but rarely
 * long ones. Measured on speech of poor transmitters that let its low end pass. */
static double least_share(double seconds)
{
	return seconds < 0.6 ? 0.75 : seconds < 1.5 ? 0.45 : 0.35;
}

static bool tone_holds(const struct subtone *s, int k)
{
	double hz = s->hz[k] / fmax(s->weight[k], 1e-9), want = tone_ddhz(k) / 10.0;

	/* Found there in most pieces, by power. */
	return s->weight[k] > 0.7 * s->tone[k] && fabs(hz / want - 1) < OFF;
}

void subtone_take(const struct subtone *s, struct subtone_word *out)
{
	struct subtone all = *s;

	*out = (struct subtone_word){ 0 };
	if (all.n >= LEAST_S * low_hz(s))
		add_piece(&all);
	out->seconds = all.seconds;
	if (all.pieces == 0 || all.power <= 0)
		return;
	int t = largest(all.tone, TONES), c = largest(all.code, CODES);
	double tone = all.tone[t] / all.power, code = all.code[c] / all.power;
	double values = all.seconds * low_hz(s), least = least_share(all.seconds);
	double peak = sqrt((tone > code ? 2 * all.tone[t] : all.code[c]) / values);

	out->share = fmax(tone, code);
	out->peak_hz = peak;
	out->below = all.seconds < 0.6 ? BELOW_UNKNOWN : BELOW_NOTHING;
	if (out->share < least || peak < PEAK_HZ)
		return;
	if (code > tone) {
		out->below = BELOW_CODE;
		out->code = code_bits(c);
	} else if (tone_holds(&all, t)) {
		out->below = BELOW_TONE;
		out->tone_ddhz = tone_ddhz(t);
		out->hz = all.hz[t] / all.weight[t];
	}
}

#define OVERS_LEAST 3
#define OVERS_SHARE 0.7

void users_hear(struct users *u, const struct subtone_word *w)
{
	int i = 0;

	if (w->below == BELOW_UNKNOWN)
		return;
	u->overs++;
	while (i < u->n && (u->user[i].tone_ddhz != w->tone_ddhz || u->user[i].code != w->code))
		i++;
	if (i == USERS_MAX)
		return;         /* so many different ones that none of them is believed */
	if (i == u->n) {
		u->user[u->n].tone_ddhz = w->tone_ddhz;
		u->user[u->n].code = w->code;
		u->user[u->n++].overs = 0;
	}
	u->user[i].overs++;
}

int users_settle(struct users *u)
{
	int n = 0, overs = 0;

	/* Few: sorted by insertion. */
	for (int i = 1; i < u->n; i++)
		for (int k = i; k > 0 && u->user[k].overs > u->user[k - 1].overs; k--) {
			struct users swap = { .user[0] = u->user[k] };
			u->user[k] = u->user[k - 1];
			u->user[k - 1] = swap.user[0];
		}
	while (n < u->n && u->user[n].overs >= OVERS_LEAST)
		overs += u->user[n++].overs;
	return overs >= OVERS_SHARE * u->overs ? n : 0;
}
