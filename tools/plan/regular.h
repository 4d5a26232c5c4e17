#ifndef BANDCENSUS_TOOLS_PLAN_REGULAR_H
#define BANDCENSUS_TOOLS_PLAN_REGULAR_H

/* Whether things come at a fixed period, some of them missed. */
struct regular {
	double period_s;        /* 0: none found                                */
	double jitter_s;        /* one sigma of each beginning about its time   */
	double chance;          /* that random times would look so regular      */
};

/* Chance that n random angles add up to a mean vector of that length, 0 .. 1, or a longer one
 * (Rayleigh test; approximation of Zar, Biostatistical Analysis, 1999, equation 27.4). */
double rayleigh_chance(double length, int n);

/* at_s ascend. From one to the next there must be whole numbers of periods; the differences are
 * tested, not the times, for what is random in exchanges comes in heaps. known_s: how well times
 * are known; sweeps are regular themselves, so a period is four times that or more. work: room
 * for 2 n. */
void regular_find(const double *at_s, int n, double known_s, double *work, struct regular *out);

#endif
