#include "tools/plan/ticks.h"

#include <math.h>

#define STEPS   161             /* of a quarter of a dB             */
#define SCALES  13              /* 0.5 to 4 dB, in equal ratios     */
#define LAPSE   0.02
#define SHARP_DB 0.5
#define ODDS    3.0             /* natural logarithm, of the likelihoods */

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
	double before = k > 0 ? sum[k - 1] : 0;
	double part = (q * sum[STEPS - 1] - before) / (sum[k] - before);

	return margin_at(k) + (part - 0.5) * (margin_at(1) - margin_at(0));
}

/* That of a set which hears so many of them, whatever their level. */
static double without_levels(const struct margin *m)
{
	double n = m->heard + m->noise;

	return m->heard * log(m->heard / n) + m->noise * log(m->noise / n);
}

void ticks_margin(const struct tick *t, int n, struct margin *out)
{
	double of[STEPS][SCALES], sum[STEPS] = { 0 }, most = -INFINITY;

	*out = (struct margin){ 0 };
	for (int i = 0; i < n; i++) {
		out->heard += t[i].heard;
		out->noise += !t[i].heard;
	}
	if (n < TICKS_LEAST || out->heard < TICKS_EACH || out->noise < TICKS_EACH)
		return;
	for (int k = 0; k < STEPS; k++)
		for (int s = 0; s < SCALES; s++) {
			of[k][s] = likelihood(t, n, margin_at(k), SHARP_DB * exp2(s / 4.0));
			most = fmax(most, of[k][s]);
		}
	for (int k = 0; k < STEPS; k++) {
		sum[k] = k > 0 ? sum[k - 1] : 0;
		for (int s = 0; s < SCALES; s++)
			sum[k] += exp(of[k][s] - most);
	}
	out->db = quantile(sum, 0.5);
	out->likely = (struct interval){ quantile(sum, 0.025), quantile(sum, 0.975) };
	out->told = out->likely.high - out->likely.low <= TICKS_WIDE_DB &&
		    most - without_levels(out) >= ODDS;
}
