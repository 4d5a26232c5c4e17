#include "dsp/quiet.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

#include "dsp/chance.h"
#include "dsp/hot.h"

#define LOWEST    0.05          /* this share is taken to be noise at first             */
#define CUT       0.995         /* of noise lies below the cut                          */
#define LOUD_PFA  1e-9
#define ROUNDS    12
#define SETTLED   1e-4
#define ROUGHLY   15            /* a float's bit: to 0.4 %, which will do to start from  */

struct quiet quiet_of(double nu)
{
	return (struct quiet){ chance_quantile(nu, LOWEST), chance_quantile(nu, CUT),
				chance_low_mean(nu, CUT), chance_threshold(nu, LOUD_PFA) };
}

/* Quickselect (Hoare 1961, from memory). */
double quiet_quantile(double *x, int n, double q)
{
	int k = quiet_rank(n, q), low = 0, high = n - 1;

	while (low < high) {
		double pivot = x[(low + high) / 2];
		int i = low, j = high;
		while (i <= j) {
			while (x[i] < pivot)
				i++;
			while (x[j] > pivot)
				j--;
			if (i <= j) {
				double t = x[i];
				x[i++] = x[j];
				x[j--] = t;
			}
		}
		if (k <= j)
			high = j;
		else if (k >= i)
			low = i;
		else
			break;
	}
	return x[k];
}

HOT int quiet_below(const float *x, int n, float limit)
{
	int found = 0;
	for (int i = 0; i < n; i++)
		found += x[i] < limit;
	return found;
}

static inline float from_bits(uint32_t bits)
{
	float x;
	memcpy(&x, &bits, sizeof x);
	return x;
}

/* The least of x[n] that is not below. */
static inline float least_from(const float *x, int n, uint32_t bits)
{
	uint32_t least = UINT32_MAX;

	for (int i = 0; i < n; i++) {
		uint32_t over;
		memcpy(&over, &x[i], sizeof over);
		over -= bits;           /* what is below comes out huge */
		least = over < least ? over : least;
	}
	return from_bits(bits + least);
}

/* Floats that are not negative come in the order of their bits: these are found from
 * the top, two at a time, by counting, down to the last that matters or until one
 * number alone is left. Hardly a branch depends on the powers, where a search that
 * moves them about guesses wrong half the time. */
HOT static float ranked(const float *x, int n, int k, int last)
{
	int under[5] = { [4] = n };     /* below the bits found, and 1, 2, 3, 4 steps over */
	uint32_t bits = 0;

	for (int shift = 29;; shift = shift - 2 > last ? shift - 2 : last) {
		uint32_t step = 1u << shift;
		float a = from_bits(bits + step), b = from_bits(bits + 2 * step);
		float c = from_bits(bits + 3 * step);
		int under_a = 0, under_b = 0, under_c = 0;
		for (int i = 0; i < n; i++) {
			under_a += x[i] < a;
			under_b += x[i] < b;
			under_c += x[i] < c;
		}
		int steps = (under_a <= k) + (under_b <= k) + (under_c <= k);
		under[1] = under_a;
		under[2] = under_b;
		under[3] = under_c;
		under[0] = under[steps];
		under[4] = under[steps + 1];
		bits += step * (uint32_t)steps;
		if (shift == last)
			return from_bits(bits);
		if (under[4] - under[0] == 1)
			return least_from(x, n, bits);
	}
}

float quiet_ranked(const float *x, int n, int k)
{
	return ranked(x, n, k, 0);
}

#define LANES 16                /* that add for themselves: for the vectoriser */

/* How many of x[n] lie below the cut; their sum is added to *sum. */
HOT static int sum_below(const float *x, int n, float cut, double *sum)
{
	float lane[LANES] = { 0 };
	int kept = 0, i = 0;

	for (; i + LANES <= n; i += LANES)
		for (int j = 0; j < LANES; j++) {
			lane[j] += x[i + j] < cut ? x[i + j] : 0;
			kept += x[i + j] < cut;
		}
	for (; i < n; i++) {
		*sum += x[i] < cut ? (double)x[i] : 0;
		kept += x[i] < cut;
	}
	for (int j = 0; j < LANES; j++)
		*sum += (double)lane[j];
	return kept;
}

double quiet_mean(const float *x, int n, const struct quiet *q)
{
	double level = (double)ranked(x, n, quiet_rank(n, LOWEST), ROUGHLY) / q->lowest;

	for (int round = 0; round < ROUNDS; round++) {
		double sum = 0;
		int kept = sum_below(x, n, (float)(q->cut * level), &sum);
		double next = kept ? sum / kept / q->mean : level;
		bool settled = fabs(next - level) <= SETTLED * level;
		level = next;
		if (settled)
			break;
	}
	return level;
}
