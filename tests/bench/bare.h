#ifndef BANDCENSUS_TESTS_BENCH_BARE_H
#define BANDCENSUS_TESTS_BENCH_BARE_H

/* Nothing but the transforms: FFTW in single precision over buffers of zeros that
 * stay in the cache. What no chain around it can beat with the same plan. */
struct bare;

enum bare_plan {
	BARE_ESTIMATE = 0,      /* planned by estimate, in place                     */
	BARE_ESTIMATE_APART,    /* ... from one buffer to another                    */
	BARE_PATIENT,           /* the best of many that FFTW timed, in place        */
	BARE_PATIENT_APART,     /* the product's, where FFTW takes the plans it has  */
	BARE_PLANS
};

/* "estimate", "estimate-apart", "patient", "patient-apart". */
const char *bare_name(enum bare_plan plan);

/* wisdom: a file where patient plans are kept; made when it is not there. Planning
 * takes many seconds the first time. NULL: no memory. */
struct bare *bare_create(int bins, enum bare_plan plan, const char *wisdom);
void bare_destroy(struct bare *b);              /* NULL is fine */

void bare_run(struct bare *b, int transforms);

/* Searches for the best plan from one buffer to another, and prints it as the text
 * that dsp/spectrum.c carries. -1: no memory. */
int bare_wisdom(int bins);

#endif
