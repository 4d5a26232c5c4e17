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
 * it does not matter how many hold noise, as long as one in ten do. x is left
 * partly ordered. */
double quiet_mean(double *x, int n, const struct quiet *q);

/* The q-quantile of x[n], n > 0; x is left partly ordered: nothing before it is
 * greater and nothing behind it less. */
double quiet_quantile(double *x, int n, double q);

#endif
