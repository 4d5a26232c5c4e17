#ifndef BANDCENSUS_DSP_COMB_H
#define BANDCENSUS_DSP_COMB_H

/* How well a row of evenly spaced channels, a comb, explains where emissions were
 * heard (period estimation from sparse points, Fogel and Gavish 1989, from memory). */

/* A steady emission's centre, as the receiver showed it. */
struct witness {
	double hz;
	double error_hz;        /* standard error of that; the transmitter's own is not in it */
};

/* Spreads of the transmitters' own errors that are tried, in ppm, all alike
 * beforehand: fixed stations are allowed 1 to 2.5, mobiles 2.5 to 5 (common
 * practice), most do better. */
#define COMB_SPREADS 4
extern const double comb_spread_ppm[COMB_SPREADS];

/* A witness's own error and such a transmitter's. */
double comb_sigma_hz(const struct witness *w, double spread_ppm);

/* How much likelier a witness so far off a channel is to be there when it keeps to
 * the channels than at random: the density of a normal wrapped round the period,
 * times the period, which is what prefers the coarsest comb that fits. */
double comb_density(double off_hz, double sigma_hz, double period_hz);

/* Log of how likely many witnesses are, given each one's density; a share of them
 * may keep to no channel. */
struct comb_log {
	double stray;           /* that share     */
	double sum, product;
	int    held;            /* in the product */
};

#define COMB_LOG(share) { .stray = (share), .product = 1 }

void comb_add(struct comb_log *l, double density);
double comb_total(const struct comb_log *l);

#endif
