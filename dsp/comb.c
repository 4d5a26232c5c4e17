#include "dsp/comb.h"

#include <math.h>

#define HELD 32         /* factors; far from what a double holds */

const double comb_spread_ppm[COMB_SPREADS] = { 0.3, 0.6, 1.2, 2.4 };

double comb_sigma_hz(const struct witness *w, double spread_ppm)
{
	double own = spread_ppm * 1e-6 * w->hz;

	return sqrt(w->error_hz * w->error_hz + own * own);
}

double comb_density(double off_hz, double sigma_hz, double period_hz)
{
	double sum = 0;
	int turns = sigma_hz < 0.1 * period_hz ? 0 : 2;

	if (turns == 0 && fabs(off_hz) > 6 * sigma_hz)
		return 0;
	for (int k = -turns; k <= turns; k++) {
		double z = (off_hz + k * period_hz) / sigma_hz;
		sum += exp(-0.5 * z * z);
	}
	return sum * period_hz / (sigma_hz * sqrt(2 * M_PI));
}

void comb_add(struct comb_log *l, double density)
{
	l->product *= l->stray + (1 - l->stray) * density;
	if (++l->held == HELD) {
		l->sum += log(l->product);
		l->product = 1;
		l->held = 0;
	}
}

double comb_total(const struct comb_log *l)
{
	return l->held ? l->sum + log(l->product) : l->sum;
}
