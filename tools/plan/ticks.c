#include "tools/plan/ticks.h"

#include <math.h>

#define STEPS   321             /* of an eighth of a dB             */
#define SCALES  13              /* 0.5 to 4 dB, in equal ratios     */
#define LAPSE   0.02
#define SHARP_DB 0.5

static double margin_at(int k)
{
	return TICKS_LOW_DB + (TICKS_HIGH_DB - TICKS_LOW_DB) * k / (STEPS - 1);
}

static double likelihood(const struct tick *t, int n, double margin, double scale)
{
	double log_of = 0;

	for (int i = 0; i < n; i++) {
		double chance = 1 / (1 + exp(-(t[i].level_db - margin) / scale));
		log_of += log(LAPSE + (1 - 2 * LAPSE) * (t[i].heard ? chance : 1 - chance));
	}
	return log_of;
}

/* Where the sums up to there reach the share q of all, between two steps by a straight line. */
static double quantile(const double sum[STEPS], double q)
{
	int k = 0;

	while (k < STEPS - 1 && sum[k] < q * sum[STEPS - 1])
		k++;
	double before = k > 0 ? sum[k - 1] : 0, step = sum[k] - before;
	double part = step > 0 ? (q * sum[STEPS - 1] - before) / step : 0;

	return margin_at(k) + (part - 0.5) * (margin_at(1) - margin_at(0));
}

void ticks_margin(const struct tick *t, int n, struct margin *out)
{
	double sum[STEPS], most = -INFINITY;

	*out = (struct margin){ 0 };
	for (int i = 0; i < n; i++) {
		out->heard += t[i].heard;
		out->noise += !t[i].heard;
	}
	if (n < TICKS_LEAST || out->heard < TICKS_EACH || out->noise < TICKS_EACH)
		return;
	/* Twice: products of many chances are too small for a double until the greatest is out. */
	for (int pass = 0; pass < 2; pass++)
		for (int k = 0; k < STEPS; k++) {
			double here = 0;
			for (int s = 0; s < SCALES; s++) {
				double l = likelihood(t, n, margin_at(k), SHARP_DB * exp2(s / 4.0));
				if (pass == 0)
					most = fmax(most, l);
				else
					here += exp(l - most);
			}
			sum[k] = here + (k > 0 ? sum[k - 1] : 0);
		}
	out->db = quantile(sum, 0.5);
	out->likely = (struct interval){ quantile(sum, 0.025), quantile(sum, 0.975) };
	out->told = out->likely.high - out->likely.low <= TICKS_WIDE_DB;
}
