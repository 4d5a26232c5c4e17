#ifndef BANDCENSUS_DSP_CHANCE_H
#define BANDCENSUS_DSP_CHANCE_H

/* The little statistics that detection needs. */

/* z with P(N(0,1) <= z) = p, 0 < p < 1. */
double normal_quantile(double p);

/* Regularised incomplete gamma functions: the share of a Gamma(a, 1) variable
 * below and above x. a > 0, x >= 0. */
double gamma_below(double a, double x);
double gamma_above(double a, double x);

/* The power, in mean noise powers, that noise alone passes with chance pfa when
 * the power has nu complex degrees of freedom: P(Gamma(nu)/nu > t) = pfa
 * (energy detector, Urkowitz 1967). 0 < pfa < 1. */
double chance_threshold(double nu, double pfa);

/* Mean of the lowest share q of noise powers of nu degrees, in mean noise
 * powers: what the lowest quarter reads too little by. */
double chance_low_mean(double nu, double q);

/* The q-quantile of noise powers of nu degrees, in mean noise powers. */
double chance_quantile(double nu, double q);

#endif
