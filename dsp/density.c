#include "dsp/density.h"

#include <math.h>

/* psi(k) - ln k: by so much the mean logarithm of k-fold averages is low. */
static double log_bias(double k)
{
	return -1 / (2 * k) - 1 / (12 * k * k);
}

double density_flatness(const double *psd, int from, int to, double noise, int frames)
{
	double logs = 0, sum = 0, each = 5.0 / 1.5;     /* Hann's bins share: 1.5 */
	int n = 0;

	for (int k = from; k + 4 <= to; k += 5, n++) {
		double p = psd[k] + psd[k + 1] + psd[k + 2] + psd[k + 3] + psd[k + 4];
		p = fmax(p - 5 * noise, 0.05 * p) + 1e-30;
		logs += log(p);
		sum += p;
	}
	return n ? exp(logs / n - log_bias(each * frames)) / (sum / n) : 0;
}

double density_quantile(const double *psd, int from, int to, double noise, double share)
{
	double all = 0, sum = 0;

	for (int k = from; k <= to; k++)
		all += psd[k] - noise;
	for (int k = from; k <= to; k++) {
		double p = psd[k] - noise;
		if (sum + p >= share * all && p > 0)
			return k - 0.5 + (share * all - sum) / p;
		sum += p;
	}
	return to + 0.5;
}

int density_width_26db(const double *psd, int from, int to, double noise)
{
	double most = 0;
	int first = to, last = from;

	for (int k = from; k <= to; k++)
		most = fmax(most, psd[k] - noise);
	for (int k = from; k <= to; k++) {
		double p = (psd[k - 1] + psd[k] + psd[k + 1]) / 3 - noise;
		if (p < most * 2.512e-3)
			continue;
		first = k < first ? k : first;
		last = k;
	}
	return last - first + 1;
}

double density_count_quantile(const uint32_t *count, int n, double share)
{
	double all = 0, sum = 0;

	for (int i = 0; i < n; i++)
		all += count[i];
	for (int i = 0; i < n; i++) {
		if (count[i] && sum + count[i] >= share * all)
			return i + (share * all - sum) / count[i];
		sum += count[i];
	}
	return n;
}
