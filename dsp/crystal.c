#include "dsp/crystal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define GRID_PPM    0.1         /* of the scan, ...                                     */
#define FINE_PPM    0.01        /* ... and of the last look about its peak              */
#define PEAK_PPM    2.0         /* so far about it is the same answer                   */
#define GRID_MOST   4001        /* +- 200 ppm                                           */
#define STRAY       0.1         /* share of witnesses that keep to no channel           */
#define REFERENCE_STRAY 0.2     /* chance that none of those heard is the reference     */
#define AGREES      2.0         /* likelier than chance by so much: counts as a voice   */
#define CLOCK_HZ    28.8e6      /* the usual dongle's                                   */
#define CLOCK_NEAR_HZ 1500.0
#define ODDS_MOST   1e9

/* A band with its numbers ready for the scan. */
struct comb {
	double low, high, first, step, last;    /* hertz */
	bool   witness;
};

struct crystal {
	const struct band *bands;
	struct comb       *comb;
	int                n;
	double             score[COMB_SPREADS][GRID_MOST];
};

struct crystal *crystal_create(const struct band *bands, int n_bands)
{
	struct crystal *c = calloc(1, sizeof *c);
	if (!c)
		return NULL;
	c->bands = bands;
	c->n = n_bands;
	c->comb = calloc((size_t)n_bands + 1, sizeof *c->comb);
	if (!c->comb)
		goto fail;
	for (int i = 0; i < n_bands; i++) {
		const struct band *b = &bands[i];
		c->comb[i] = (struct comb){
			.low = freq_to_hz(band_low(b)), .high = freq_to_hz(band_high(b)),
			.first = freq_to_hz(b->raster.first), .step = freq_to_hz(b->raster.step),
			.last = freq_to_hz(raster_last(&b->raster)), .witness = b->mode != MODE_WFM,
		};
	}
	return c;
fail:
	crystal_destroy(c);
	return NULL;
}

void crystal_destroy(struct crystal *c)
{
	if (!c)
		return;
	free(c->comb);
	free(c);
}

/* The band that claims hz; -1: none. */
static int band_at(const struct crystal *c, double hz)
{
	int low = 0, high = c->n;

	while (low < high) {
		int middle = (low + high) / 2;
		if (c->comb[middle].high < hz)
			low = middle + 1;
		else
			high = middle;
	}
	return low < c->n && hz >= c->comb[low].low && c->comb[low].witness ? low : -1;
}

/* From the nearest channel, in hertz. */
static double beside(const struct comb *b, double hz)
{
	return remainder(fmin(fmax(hz, b->first - 0.5 * b->step), b->last + 0.5 * b->step) -
				 b->first,
			 b->step);
}

/* How much likelier a witness is on a channel there than at random. */
static double likelihood(const struct crystal *c, const struct witness *w, double hz, double spread)
{
	int b = band_at(c, hz);

	return b < 0 ? 1 :
		comb_density(beside(&c->comb[b], hz), comb_sigma_hz(w, spread), c->comb[b].step);
}

/* The same of a reference: one of the witnesses within reach is it, or none. */
static double reference(const struct crystal_wants *w, double hz, const struct witness *witness,
			int n, double shift, double spread)
{
	double reach = (w->most_ppm - w->least_ppm) * 1e-6 * hz, sum = 0;
	int within = 0;

	for (int i = 0; i < n; i++) {
		double sigma = comb_sigma_hz(&witness[i], spread);
		double off = witness[i].hz * (1 + shift * 1e-6) - hz;
		if (fabs(witness[i].hz - hz) > reach)
			continue;
		within++;
		if (fabs(off) < 8 * sigma)
			sum += reach * exp(-0.5 * off * off / (sigma * sigma)) /
			       (sigma * sqrt(2 * M_PI));
	}
	return within ? REFERENCE_STRAY + (1 - REFERENCE_STRAY) * sum / within : 1;
}

/* Log of how well an error explains all that was heard. */
static double score(const struct crystal *c, const struct crystal_wants *w,
		    const struct witness *witness, int n, double shift, double spread)
{
	struct comb_log all = COMB_LOG(STRAY);

	for (int i = 0; i < n; i++)
		comb_add(&all,
			 likelihood(c, &witness[i], witness[i].hz * (1 + shift * 1e-6), spread));
	double sum = comb_total(&all);
	for (int i = 0; i < w->references; i++)
		sum += log(reference(w, freq_to_hz(w->reference[i]), witness, n, shift, spread));
	return sum;
}

static int grid_size(const struct crystal_wants *w)
{
	int n = (int)((w->most_ppm - w->least_ppm) / GRID_PPM + 1.5);
	return n < 1 ? 1 : n > GRID_MOST ? GRID_MOST : n;
}

/* Fills the scores; the grid point and the spread of the best one. */
static void scan(struct crystal *c, const struct crystal_wants *w, const struct witness *witness,
		 int n, int *at, int *spread)
{
	int points = grid_size(w);

	*at = *spread = 0;
	for (int s = 0; s < COMB_SPREADS; s++) {
		for (int i = 0; i < points; i++) {
			double shift = w->least_ppm + i * GRID_PPM - w->applied_ppm;
			c->score[s][i] = score(c, w, witness, n, shift, comb_spread_ppm[s]);
			if (c->score[s][i] > c->score[*spread][*at]) {
				*at = i;
				*spread = s;
			}
		}
	}
}

/* Weighs the peak against the rest, all spreads alike beforehand. */
static void weigh(const struct crystal *c, const struct crystal_wants *w, int at, int spread,
		  struct crystal_verdict *out)
{
	double best = c->score[spread][at], here = 0, elsewhere = 0, rival = -HUGE_VAL;
	int points = grid_size(w), guard = (int)(PEAK_PPM / GRID_PPM);

	out->rival_ppm = out->ppm;
	for (int s = 0; s < COMB_SPREADS; s++)
		for (int i = 0; i < points; i++) {
			double p = exp(c->score[s][i] - best);
			if (abs(i - at) <= guard) {
				here += p;
				continue;
			}
			elsewhere += p;
			if (c->score[s][i] > rival) {
				rival = c->score[s][i];
				out->rival_ppm = w->least_ppm + i * GRID_PPM;
			}
		}
	/* At an end of the range the true peak may lie beyond it. */
	bool inside = at >= guard / 2 && at < points - guard / 2;
	out->odds = inside ? fmin(here / fmax(elsewhere, 1e-300), ODDS_MOST) : 0;
}

/* Mean and standard deviation of the peak. */
static void refine(const struct crystal *c, const struct crystal_wants *w,
		   const struct witness *witness, int n, double top, struct crystal_verdict *out)
{
	double middle = out->ppm, mass = 0, mean = 0, square = 0;
	int reach = (int)(PEAK_PPM / FINE_PPM);

	for (int s = 0; s < COMB_SPREADS; s++)
		for (int i = -reach; i <= reach; i++) {
			double x = i * FINE_PPM;
			double p = exp(score(c, w, witness, n, middle + x - w->applied_ppm,
					     comb_spread_ppm[s]) - top);
			mass += p;
			mean += p * x;
			square += p * x * x;
		}
	mean /= mass;
	out->ppm = middle + mean;
	out->error_ppm = sqrt(fmax(square / mass - mean * mean, FINE_PPM * FINE_PPM));
}

static void count(const struct crystal *c, const struct crystal_wants *w,
		  const struct witness *witness, int n, struct crystal_verdict *out)
{
	int32_t seen[16];

	out->agree = out->bands = 0;
	for (int i = 0; i < n; i++) {
		struct crystal_fit f = crystal_fit(c, &witness[i], out->ppm - w->applied_ppm);
		int k = 0;
		if (f.agrees < AGREES)
			continue;
		out->agree++;
		while (k < out->bands && seen[k] != f.band)
			k++;
		if (k == out->bands && k < (int)(sizeof seen / sizeof seen[0]))
			seen[out->bands++] = f.band;
	}
}

static enum crystal_word word(const struct crystal_wants *w, const struct crystal_verdict *v)
{
	if (v->agree < w->witnesses)
		return CRYSTAL_TOO_FEW;
	if (v->bands < w->bands)
		return CRYSTAL_ONE_BAND;
	if (v->odds < CRYSTAL_ODDS)
		return CRYSTAL_AMBIGUOUS;
	return v->error_ppm > w->sure_ppm ? CRYSTAL_ROUGH : CRYSTAL_TOLD;
}

void crystal_judge(struct crystal *c, const struct crystal_wants *w, const struct witness *witness,
		   int n, struct crystal_verdict *out)
{
	int at, spread;

	memset(out, 0, sizeof *out);
	if (n == 0) {
		out->word = CRYSTAL_TOO_FEW;
		out->ppm = w->applied_ppm;
		return;
	}
	scan(c, w, witness, n, &at, &spread);
	out->ppm = w->least_ppm + at * GRID_PPM;
	weigh(c, w, at, spread, out);
	refine(c, w, witness, n, c->score[spread][at], out);
	count(c, w, witness, n, out);
	out->word = word(w, out);
}

struct crystal_fit crystal_fit(const struct crystal *c, const struct witness *w, double shift_ppm)
{
	double hz = w->hz * (1 + shift_ppm * 1e-6);
	struct crystal_fit f = { .band = band_at(c, hz) };

	if (f.band < 0)
		return f;
	const struct raster *r = &c->bands[f.band].raster;
	int32_t channel = raster_nearest(r, freq_from_hz(hz));
	f.channel = raster_centre(r, channel < 0 ? 0 : channel);
	f.residual_hz = hz - freq_to_hz(f.channel);
	for (int s = 0; s < COMB_SPREADS; s++)
		f.agrees = fmax(f.agrees, comb_density(f.residual_hz,
						       comb_sigma_hz(w, comb_spread_ppm[s]),
						       c->comb[f.band].step));
	return f;
}

bool crystal_own(double hz, double applied_ppm)
{
	double clock = CLOCK_HZ * (1 + applied_ppm * 1e-6);

	return fabs(remainder(hz, clock)) < CLOCK_NEAR_HZ && hz > 0.5 * clock;
}
