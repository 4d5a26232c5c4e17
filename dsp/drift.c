#include "dsp/drift.h"

#include <math.h>
#include <stdlib.h>

#define CHANNELS    128         /* remembered in a turn; more are passed over           */
#define KEPT        16          /* looks at each                                        */
#define LEAST       3           /* channels without which nothing is told, and so many  */
				/* more than strays: a wrong estimate has mostly strays */
#define SENDER_PPM  0.7         /* usual error of a transmitter                         */
#define MIDDLE_HZ   100.0       /* of measuring a voice's middle in one look            */
#define GATE_PPM    2.5         /* a transmitter is hardly ever off by more             */
#define WARM_UP_US  INT64_C(1800000000)
#define WANDER_WARMING 0.5      /* ppm a turn, one sigma: 1.4 ppm a minute is the worst seen */
#define WANDER_WARM 0.06        /* about 1 ppm an hour                                  */
#define LANDING_PPM 0.05        /* what the tuner's own steps leave                     */
#define WORST_PPM   20.0        /* no less sure than that                               */

struct voice {
	int64_t thirds;         /* its channel                        */
	double  hz;
	double  off[KEPT];      /* ppm by which the estimate is short */
	int     n;              /* looks in all                       */
};

struct drift {
	struct crystal *crystal;
	const struct band *bands;
	double  ppm, variance;
	int64_t turned_us, told_us, warm_us;    /* warm_us: until when it warms up */
	int     told;
	struct voice voice[CHANNELS];
	int     n;
};

struct drift *drift_create(const struct band *bands, int n_bands)
{
	struct drift *d = calloc(1, sizeof *d);

	if (!d)
		return NULL;
	d->bands = bands;
	d->crystal = crystal_create(bands, n_bands);
	if (d->crystal)
		return d;
	drift_destroy(d);
	return NULL;
}

void drift_destroy(struct drift *d)
{
	if (!d)
		return;
	crystal_destroy(d->crystal);
	free(d);
}

void drift_begin(struct drift *d, double ppm, double error_ppm, bool moving, int64_t mono_us)
{
	d->ppm = ppm;
	d->variance = error_ppm * error_ppm;
	d->turned_us = d->told_us = mono_us;
	d->warm_us = moving ? mono_us + WARM_UP_US : mono_us;
	d->told = d->n = 0;
}

/* How far off a line may seem and still be believed. */
static double gate_ppm(const struct drift *d)
{
	return GATE_PPM + 3 * sqrt(d->variance);
}

static struct voice *voice_of(struct drift *d, int64_t thirds)
{
	for (int i = 0; i < d->n; i++)
		if (d->voice[i].thirds == thirds)
			return &d->voice[i];
	if (d->n == CHANNELS)
		return NULL;
	d->voice[d->n] = (struct voice){ .thirds = thirds, .hz = (double)thirds / 3 };
	return &d->voice[d->n++];
}

void drift_hear(struct drift *d, const struct line *line, double applied_ppm, int64_t mono_us)
{
	struct witness w = { line->hz, MIDDLE_HZ };
	struct crystal_fit f = crystal_fit(d->crystal, &w, d->ppm - applied_ppm);
	double off = -f.residual_hz / line->hz * 1e6;

	(void)mono_us;
	if (f.band < 0 || crystal_own(line->hz, applied_ppm))
		return;
	/* Where half a step is no more than what is not known it tells nothing. */
	if (0.5e6 * freq_to_hz(d->bands[f.band].raster.step) / line->hz < 1.3 * gate_ppm(d))
		return;
	struct voice *v = voice_of(d, f.channel.thirds);
	if (v)
		v->off[v->n++ % KEPT] = off;
}

static int by_value(const void *a, const void *b)
{
	const double *x = a, *y = b;
	return (*x > *y) - (*x < *y);
}

struct vote {
	double off, weight;
};

/* One vote a channel, so that nobody outshouts the rest. */
static struct vote vote_of(struct voice *v)
{
	int n = v->n < KEPT ? v->n : KEPT;
	double measuring = MIDDLE_HZ / v->hz * 1e6;

	qsort(v->off, (size_t)n, sizeof *v->off, by_value);
	return (struct vote){ 0.5 * (v->off[(n - 1) / 2] + v->off[n / 2]),
			      1 / (SENDER_PPM * SENDER_PPM + measuring * measuring / n) };
}

static int by_off(const void *a, const void *b)
{
	const struct vote *x = a, *y = b;
	return (x->off > y->off) - (x->off < y->off);
}

/* The weighted median of all votes, and the weight of all. */
static double median(struct vote *v, int n, double *weight)
{
	double half = 0;
	int i = 0;

	*weight = 0;
	for (int k = 0; k < n; k++)
		*weight += v[k].weight;
	qsort(v, (size_t)n, sizeof *v, by_off);
	while (i < n - 1 && half + v[i].weight < 0.5 * *weight)
		half += v[i++].weight;
	return v[i].off;
}

/* Those that may be on their channels; the others are strays. */
static int count_votes(struct drift *d, struct vote *vote)
{
	int n = 0;

	for (int i = 0; i < d->n; i++) {
		vote[n] = vote_of(&d->voice[i]);
		n += fabs(vote[n].off) <= gate_ppm(d);
	}
	return n;
}

/* Too few voices: it may have gone anywhere meanwhile. */
static void tell(struct drift *d, int64_t mono_us)
{
	struct vote vote[CHANNELS];
	double weight;
	int n = count_votes(d, vote);

	if (n < LEAST || 2 * n <= d->n)
		return;
	double off = median(vote, n, &weight);
	/* A median's variance is pi/2 times a mean's. */
	double noise = 0.5 * M_PI / weight + LANDING_PPM * LANDING_PPM;
	double gain = d->variance / (d->variance + noise);
	d->ppm += gain * off;
	d->variance *= 1 - gain;
	d->told = n;
	d->told_us = mono_us;
}

bool drift_turn(struct drift *d, int64_t mono_us)
{
	double turns = (double)(mono_us - d->turned_us) / (double)DRIFT_TURN_US;
	double wander = mono_us < d->warm_us ? WANDER_WARMING : WANDER_WARM;

	if (turns < 1)
		return false;
	d->variance = fmin(d->variance + turns * wander * wander, WORST_PPM * WORST_PPM);
	tell(d, mono_us);
	d->turned_us = mono_us;
	d->n = 0;
	return true;
}

struct drift_state drift_state(const struct drift *d)
{
	/* However often they are heard, the transmitters' own errors stay. */
	double least = d->told ? SENDER_PPM / sqrt(d->told) : 0;

	return (struct drift_state){ d->ppm, fmax(sqrt(d->variance), least), d->told, d->told_us };
}
