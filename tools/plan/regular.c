#include "tools/plan/regular.h"

#include <math.h>

#include "tools/plan/list.h"

#define LEAST   6               /* differences                                         */
#define TRIED   40              /* of these are tried as periods ...                   */
#define LONE    0.8             /* ... and so many of all must be no shorter than ...  */
#define SHORT   0.7             /* ... so much of it                                   */
#define LENGTH  0.6             /* gaps of any one law lie about their mean: 0.4 at most */
#define CHANCE  1e-3
#define ROUNDS  4
#define KNOWN_TIMES 4

double rayleigh_chance(double length, int n)
{
	double sum = n * length;

	return fmin(1, exp(sqrt(1 + 4.0 * n + 4 * ((double)n * n - sum * sum)) - (1 + 2.0 * n)));
}

/* The period that fits best near p: all the time over all the periods in it. */
static double refine(const double *d, int n, double p)
{
	for (int turn = 0; turn < ROUNDS; turn++) {
		double time = 0, periods = 0;
		for (int i = 0; i < n; i++) {
			double k = round(d[i] / p);
			/* Over many periods it is not known yet how many. */
			if (k >= 1 && k <= 4) {
				time += d[i];
				periods += k;
			}
		}
		if (periods > 0)
			p = time / periods;
	}
	return p;
}

/* Length of the mean vector of differences turned once each period; they must not be shorter. */
static double agreement(const double *d, int n, double p)
{
	double re = 0;
	int lone = 0;

	for (int i = 0; i < n; i++) {
		re += cos(2 * M_PI * d[i] / p);
		lone += d[i] >= SHORT * p;
	}
	return lone >= LONE * n ? fmax(re / n, 0) : 0;
}

void regular_find(const double *at_s, int n, double known_s, double *work, struct regular *out)
{
	double best = 0, period = 0;
	int gaps = n - 1;

	*out = (struct regular){ 0, 0, 1 };
	if (gaps < LEAST)
		return;
	for (int i = 0; i < gaps; i++)
		work[i] = at_s[i + 1] - at_s[i];
	list_quantile(work, gaps, 0.5);         /* sorts */
	for (int k = 0; k < TRIED; k++) {
		double first = work[k * gaps / TRIED];
		double p = first > 0 ? refine(work, gaps, first) : 0;
		double length = p >= KNOWN_TIMES * known_s && p > 0 ? agreement(work, gaps, p) : 0;
		if (length > best) {
			best = length;
			period = p;
		}
	}
	out->chance = fmin(1, TRIED * rayleigh_chance(best, gaps));
	if (best < LENGTH || out->chance > CHANCE)
		return;
	out->period_s = period;
	/* A wrapped normal angle of sigma s has mean vector exp(-s^2/2); a difference has two. */
	out->jitter_s = period / (2 * M_PI) * sqrt(-log(fmin(best, 1 - 1e-12)));
}
