#ifndef BANDCENSUS_DSP_QUIET_H
#define BANDCENSUS_DSP_QUIET_H

/* Powers that hold nothing but noise, told from those that hold more. What is
 * known of the former beforehand, when their mean is 1: */
struct quiet {
	double lowest;          /* few lie below                        */
	double cut;             /* nearly all lie below, ...            */
	double mean;            /* ... and that is the mean of those    */
	double loud;            /* noise never gets here                */
};

/* For powers of nu complex degrees of freedom. Slow: when sizes are set. */
struct quiet quiet_of(double nu);

/* The mean of the noise among x[n], n > 0: of those below a cut that noise rarely
 * reaches, whose own mean is known. It starts from the lowest and climbs, so that
 * it does not matter how many hold noise, as long as one in ten do. */
double quiet_mean(const float *x, int n, const struct quiet *q);

/* Which of n > 0 in order the q-quantile is, from 0. */
static inline int quiet_rank(int n, double q)
{
	return (int)(q * (n - 1) + 0.5);
}

/* The q-quantile of x[n]; x is left partly ordered: nothing before it is greater and
 * nothing behind it less. */
double quiet_quantile(double *x, int n, double q);

/* The one of x[n] that comes k-th in order, from 0; none is negative. Many powers are
 * gone through several times as fast as by quiet_quantile. */
float quiet_ranked(const float *x, int n, int k);

/* How many of x[n] lie below. */
int quiet_below(const float *x, int n, float limit);

#endif
