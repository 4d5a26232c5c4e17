#include "dsp/quiet.h"

#include <math.h>
#include <stdbool.h>

#include "dsp/chance.h"

#define LOWEST    0.05          /* this share is taken to be noise at first             */
#define CUT       0.995         /* of noise lies below the cut                          */
#define LOUD_PFA  1e-9
#define ROUNDS    12
#define SETTLED   1e-4

struct quiet quiet_of(double nu)
{
	return (struct quiet){ chance_quantile(nu, LOWEST), chance_quantile(nu, CUT),
				chance_low_mean(nu, CUT), chance_threshold(nu, LOUD_PFA) };
}

/* Quickselect (Hoare 1961, from memory). */
double quiet_quantile(double *x, int n, double q)
{
	int k = (int)(q * (n - 1) + 0.5), low = 0, high = n - 1;

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

double quiet_mean(double *x, int n, const struct quiet *q)
{
	double level = quiet_quantile(x, n, LOWEST) / q->lowest;

	for (int round = 0; round < ROUNDS; round++) {
		double cut = q->cut * level, sum = 0;
		int kept = 0;
		for (int i = 0; i < n; i++) {
			sum += x[i] < cut ? x[i] : 0;
			kept += x[i] < cut;
		}
		double next = kept ? sum / kept / q->mean : level;
		bool settled = fabs(next - level) <= SETTLED * level;
		level = next;
		if (settled)
			break;
	}
	return level;
}
