#include "tools/plan/regular.h"

#include <math.h>
#include <stdint.h>

#include "tools/plan/list.h"

#define LEAST   6               /* differences                                         */
#define TRIED   40              /* of these are tried as periods ...                   */
#define LONE    0.8             /* ... and so many of all must be no shorter than ...  */
#define SHORT   0.7             /* ... so much of it                                   */
#define LENGTH  0.6             /* gaps of any one law lie about their mean: 0.4 at most */
#define CHANCE  1e-3
#define ROUNDS  4
#define COUNTED 4               /* periods in one difference, at most                  */
#define KNOWN_TIMES 4

double rayleigh_chance(double length, int n)
{
	double sum = n * length;

	return fmin(1, exp(sqrt(1 + 4.0 * n + 4 * ((double)n * n - sum * sum)) - (1 + 2.0 * n)));
}

/* Differences, ascending, and what those before each come to: d[n] of them, sum[n + 1]. */
struct differences {
	const double *d, *sum;
	int           n;
};

/* How many are shorter than s. */
static int shorter(const struct differences *all, double s)
{
	int low = 0, high = all->n;

	while (low < high) {
		int mid = (low + high) / 2;
		if (all->d[mid] < s)
			low = mid + 1;
		else
			high = mid;
	}
	return low;
}

/* The period that fits best near p: all the time over all the periods in it. Over many periods
 * it is not known yet how many. */
static double refine(const struct differences *all, double p)
{
	for (int turn = 0; turn < ROUNDS; turn++) {
		int from = shorter(all, 0.5 * p), first = from;
		double periods = 0;
		for (int k = 1; k <= COUNTED; k++) {
			int to = shorter(all, (k + 0.5) * p);
			periods += (double)k * (to - from);
			from = to;
		}
		if (periods > 0)
			p = (all->sum[from] - all->sum[first]) / periods;
	}
	return p;
}

/* cos(2 pi x) of x >= 0, by its series to the 18th power over half a turn: good to 4e-9. The library's
 * takes four times as long, and busy channels have thousands of differences. */
static double turned(double x)
{
	static const double inverse[] = { 1 / 306.0, 1 / 240.0, 1 / 182.0, 1 / 132.0, 1 / 90.0,
					  1 / 56.0, 1 / 30.0, 1 / 12.0, 1 / 2.0 };
	double y = 2 * M_PI * (x - (double)(int64_t)(x + 0.5)), yy = y * y, sum = 1;

	for (int i = 0; i < 9; i++)
		sum = 1 - yy * inverse[i] * sum;
	return sum;
}

/* Length of the mean vector of differences turned once each period; they must not be shorter. */
static double agreement(const struct differences *all, double p)
{
	double re = 0, each = 1 / p;

	if (all->n - shorter(all, SHORT * p) < LONE * all->n)
		return 0;
	for (int i = 0; i < all->n; i++)
		re += turned(all->d[i] * each);
	return fmax(re / all->n, 0);
}

void regular_find(const double *at_s, int n, double known_s, double *work, struct regular *out)
{
	double best = 0, period = 0, *sum = work + n;
	int gaps = n - 1;
	const struct differences all = { work, sum, gaps };

	*out = (struct regular){ 0, 0, 1 };
	if (gaps < LEAST)
		return;
	for (int i = 0; i < gaps; i++)
		work[i] = at_s[i + 1] - at_s[i];
	list_quantile(work, gaps, 0.5);         /* sorts */
	sum[0] = 0;
	for (int i = 0; i < gaps; i++)
		sum[i + 1] = sum[i] + work[i];
	for (int k = 0; k < TRIED; k++) {
		double first = work[k * gaps / TRIED];
		double p = first > 0 ? refine(&all, first) : 0;
		double length = p >= KNOWN_TIMES * known_s && p > 0 ? agreement(&all, p) : 0;
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
