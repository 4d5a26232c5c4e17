#include "tools/plan/renewal.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

/* What is sought, so scaled that any number will do. */
enum { LOG_ON = 0, LOG_GAP, ODDS_MORE, SOUGHT };

/* Weak expectations: mean and one sigma of each. */
static const double expected[SOUGHT] = { 1.4, 0.6, 1.0 }, within[SOUGHT] = { 1.5, 1.0, 1.5 };

struct search {
	const struct glimpse *g;
	int                   n;
	double                every_s;
	struct renewal        r;
};

static double fit_of(struct search *s, const double *x)
{
	double sum = 0;

	s->r.on_s = exp(x[LOG_ON]);
	s->r.gap_s = exp(x[LOG_GAP]);
	s->r.more = 1 / (1 + exp(-x[ODDS_MORE]));
	for (int i = 0; i < SOUGHT; i++)
		sum -= 0.5 * pow((x[i] - expected[i]) / within[i], 2);
	return sum + renewal_likelihood(&s->r, s->g, s->n, s->every_s);
}

/* Slope and curvature (of minus the fit) at x, where the fit is at, by differences. */
#define NEAR 0.05

static void shape_at(struct search *s, const double *x, double at, double *slope,
		     double curve[SOUGHT][SOUGHT])
{
	double up[SOUGHT], y[SOUGHT];

	for (int i = 0; i < SOUGHT; i++) {
		memcpy(y, x, sizeof y);
		y[i] = x[i] + NEAR;
		up[i] = fit_of(s, y);
		y[i] = x[i] - NEAR;
		double down = fit_of(s, y);
		slope[i] = (up[i] - down) / (2 * NEAR);
		curve[i][i] = -(up[i] - 2 * at + down) / (NEAR * NEAR);
	}
	for (int i = 0; i < SOUGHT; i++)
		for (int j = 0; j < i; j++) {
			memcpy(y, x, sizeof y);
			y[i] += NEAR;
			y[j] += NEAR;
			curve[i][j] = curve[j][i] =
				-(fit_of(s, y) - up[i] - up[j] + at) / (NEAR * NEAR);
		}
}

/* Inverse of a symmetric matrix made surely positive by adding to its diagonal; its
 * determinant's logarithm. */
static double invert(double m[SOUGHT][SOUGHT], double out[SOUGHT][SOUGHT])
{
	double a[SOUGHT][2 * SOUGHT], log_det;
	bool good;

	for (double add = 0; ; add = add > 0 ? 4 * add : 0.05) {
		good = true;
		log_det = 0;
		for (int i = 0; i < SOUGHT; i++)
			for (int j = 0; j < 2 * SOUGHT; j++)
				a[i][j] = j < SOUGHT ? m[i][j] + add * (i == j) : j - SOUGHT == i;
		for (int i = 0; i < SOUGHT; i++) {
			double pivot = a[i][i];
			good = good && pivot > 1e-3;
			if (!good)
				break;
			log_det += log(pivot);
			for (int j = 0; j < 2 * SOUGHT; j++)
				a[i][j] /= pivot;
			for (int k = 0; k < SOUGHT; k++) {
				double by = k == i ? 0 : a[k][i];
				for (int j = 0; j < 2 * SOUGHT; j++)
					a[k][j] -= by * a[i][j];
			}
		}
		if (good || add > 1e9)
			break;
	}
	for (int i = 0; i < SOUGHT; i++)
		memcpy(out[i], &a[i][SOUGHT], SOUGHT * sizeof **out);
	return log_det;
}

#define ROUNDS 25
#define FAR    1.0              /* no step is longer                       */
#define DONE   0.03

/* Newton's method from x on, halving steps that do not help. Leaves the spread; returns the
 * logarithm of the evidence (Laplace). */
static double climb(struct search *s, double *x, double spread[SOUGHT][SOUGHT])
{
	double slope[SOUGHT], curve[SOUGHT][SOUGHT], at = fit_of(s, x), log_det = 0;

	for (int round = 0; round < ROUNDS; round++) {
		double step[SOUGHT], y[SOUGHT], longest = 0, by = 1, there = at;
		shape_at(s, x, at, slope, curve);
		log_det = invert(curve, spread);
		for (int i = 0; i < SOUGHT; i++) {
			step[i] = 0;
			for (int j = 0; j < SOUGHT; j++)
				step[i] += spread[i][j] * slope[j];
			longest = fmax(longest, fabs(step[i]));
		}
		if (longest < DONE)
			break;
		for (by = fmin(1, FAR / longest); by > 0.01; by /= 3) {
			for (int i = 0; i < SOUGHT; i++)
				y[i] = x[i] + by * step[i];
			there = fit_of(s, y);
			if (there > at)
				break;
		}
		if (by <= 0.01)
			break;
		memcpy(x, y, sizeof y);
		at = there;
	}
	return at - 0.5 * log_det;
}

/* ---- what is told ---- */

enum { TOLD_OVER = 0, TOLD_MEDIAN, TOLD_GAP, TOLD };

/* Logarithms of what is told of a chain: a geometric number of keyings, and the silence amid
 * them, joined. Its square of spread over mean is that of one, times the chance that it ends,
 * plus the chance that it does not; the median is that of the gamma distribution with it. */
static void tell(const struct search *s, const double *x, double *told)
{
	struct renewal r = s->r;

	r.on_s = exp(x[LOG_ON]);
	r.gap_s = exp(x[LOG_GAP]);
	r.more = 1 / (1 + exp(-x[ODDS_MORE]));
	double joins = renewal_joins(&r), h = r.hang_s, longer = exp(-h / r.gap_s);
	double amid = h > 0 ? r.gap_s - h * longer / (1 - longer) : 0;
	double phases = 1 / ((1 - joins) / r.phases + joins);
	told[TOLD_OVER] = log((r.on_s + joins * amid) / (1 - joins));
	told[TOLD_MEDIAN] =
		told[TOLD_OVER] + log(1 - 1 / (3 * phases) + 0.0265 / (phases * phases));
	told[TOLD_GAP] = log(r.gap_s + h);
}

struct mixed {                  /* of logarithms, over what was tried */
	double weight, mean, square;
};

/* Each with its variance as it follows from that of what was sought. */
static void mix(const struct search *s, const double *x, double spread[SOUGHT][SOUGHT],
		double weight, struct mixed *m)
{
	double at[TOLD], by[SOUGHT][TOLD], y[SOUGHT];

	tell(s, x, at);
	for (int i = 0; i < SOUGHT; i++) {
		memcpy(y, x, sizeof y);
		y[i] += NEAR;
		tell(s, y, by[i]);
	}
	for (int t = 0; t < TOLD; t++) {
		double variance = 0;
		for (int i = 0; i < SOUGHT; i++)
			for (int j = 0; j < SOUGHT; j++)
				variance += (by[i][t] - at[t]) * (by[j][t] - at[t]) * spread[i][j] /
					    (NEAR * NEAR);
		m[t].weight += weight;
		m[t].mean += weight * at[t];
		m[t].square += weight * (at[t] * at[t] + variance);
	}
}

/* Less sure than so, one sigma of the logarithm, and the expectations speak. */
#define UNSURE 0.5
#define Z95    1.959963985

/* What edges that nobody saw tell leans on the chain's being right, and on guesses of when a
 * park ended: where all are so, log-normal overs came out wrong by so much (simulated, means
 * 2 to 15 s, gaps 1 to 5 s, looks each 1 to 8 s). */
#define LEANS 0.09

static struct estimate guessed(const struct mixed *m, double unseen)
{
	double mean = m->mean / m->weight;
	double sigma = sqrt(fmax(m->square / m->weight - mean * mean, 0) +
			    pow(LEANS * unseen, 2));

	return (struct estimate){ exp(mean), { exp(mean - Z95 * sigma), exp(mean + Z95 * sigma) } };
}

static struct estimate said(const struct estimate *e)
{
	bool unsure = log(e->likely.high / e->value) > Z95 * UNSURE;

	return unsure ? (struct estimate){ 0, { 0, 0 } } : *e;
}

/* Share of the edges that nobody saw. */
static double unseen(const struct glimpse *g, int n)
{
	int seen = 0, hidden = 0, times = 1;
	bool on = false;

	for (int i = 0; i < n; i++) {
		enum glimpsed what = g[i].what;
		if (what <= GLIMPSE_BEGAN)
			times = 1 + g[i].again;
		if (what == GLIMPSE_BEGAN || what == GLIMPSE_ROSE || what == GLIMPSE_FELL)
			seen += times;
		if (what == GLIMPSE_AFRESH || (what == GLIMPSE_ON && !on) ||
		    (what == GLIMPSE_OFF && on))
			hidden += times;
		on = what == GLIMPSE_AFRESH || what == GLIMPSE_BEGAN || what == GLIMPSE_ON ||
		     what == GLIMPSE_STAYED_ON || what == GLIMPSE_ROSE;
	}
	return hidden > 0 ? (double)hidden / (seen + hidden) : 0;
}

/* Phases tried, with how far each is expected: log-normal overs spread by 0.7 of their mean
 * (common practice), which are two. */
#define TRIED 3
static const int tried[TRIED] = { 1, 2, 4 };
static const double likely[TRIED] = { 0.25, 0.5, 0.25 };

void renewal_fit(const struct glimpse *g, int n, double every_s, double idle_s, double hang_s,
		 struct renewal_fit *out)
{
	struct search s[TRIED];
	double best = -INFINITY, all = 0, x[TRIED][SOUGHT], spread[TRIED][SOUGHT][SOUGHT];
	double evidence[TRIED];
	struct mixed told[TOLD] = { 0 };

	*out = (struct renewal_fit){ 0 };
	for (int k = 0; k < TRIED; k++) {
		s[k] = (struct search){ g, n, every_s, { .phases = tried[k], .idle_s = idle_s,
							 .hang_s = hang_s } };
		memcpy(x[k], k ? x[k - 1] : expected, sizeof x[k]);
		evidence[k] = log(likely[k]) + climb(&s[k], x[k], spread[k]);
		best = fmax(best, evidence[k]);
	}
	for (int k = 0; k < TRIED; k++) {
		double weight = exp(evidence[k] - best);
		mix(&s[k], x[k], spread[k], weight, told);
		out->phases += weight * tried[k];
		out->more += weight / (1 + exp(-x[k][ODDS_MORE]));
		all += weight;
	}
	out->phases /= all;
	out->more /= all;
	double leaning = unseen(g, n);
	const struct estimate median_s = guessed(&told[TOLD_MEDIAN], leaning);
	out->guessed_on_s = guessed(&told[TOLD_OVER], leaning);
	out->guessed_gap_s = guessed(&told[TOLD_GAP], leaning);
	out->on_s = said(&out->guessed_on_s);
	out->median_s = said(&median_s);
	out->gap_s = said(&out->guessed_gap_s);
}
