#ifndef BANDCENSUS_TOOLS_PLAN_EXACT_H
#define BANDCENSUS_TOOLS_PLAN_EXACT_H

#include <stdint.h>

/* Statistics of small counts, without the normal distribution's help. */

/* Share of a Beta(a, b) variable below x: the regularised incomplete beta
 * function. a, b > 0, 0 <= x <= 1. */
double beta_below(double a, double b, double x);

/* The q-quantile of the odds X / (1 - X) of a Beta(a, b) variable, which are
 * also those of a Gamma(a) over a Gamma(b) one. 0 < q < 1. Good to 2e-4 of itself. */
double odds_quantile(double a, double b, double q);

/* Whether two Poisson counts k1 in t1 and k2 in t2 may have one rate: given their sum, k2 is
 * binomial with t2 / (t1 + t2) (Przyborowski and Wilenski 1940). Twice the lesser tail, which is below
 * 0.05 just when Clopper and Pearson's 95 % interval leaves 1 out. Counts may be fractions,
 * then by the beta functions that the tails are. 1 when either time is nothing. */
double rates_test(double k1, double t1, double k2, double t2);

/* 95 % bounds of a Poisson mean of which k came (Garwood 1936); none: 0 and 3.69.
 * A bound from above alone, of none: -ln 0.05 = 2.996. */
void poisson_bounds(int64_t k, double *low, double *high);
#define POISSON_NONE 2.995732274

#endif
