#ifndef BANDCENSUS_TESTS_IDEAL_H
#define BANDCENSUS_TESTS_IDEAL_H

#include <stdint.h>

#define IDEAL_ROWS 4            /* carriers of different strengths */

/* What an ideal energy detector finds that knows the noise: COMPUTED by
 * tests/outside/loss.py, SciPy 1.10.1, and kept beside it. */
struct ideal {
	double nu;                      /* complex degrees of freedom              */
	double snr_db;                  /* found 0.9 of the time, in 7.5 kHz       */
	double off_db[IDEAL_ROWS];      /* beside that one, and ...                */
	double found[IDEAL_ROWS];       /* ... the share found                     */
};

/* Fails the test when the table is not there. */
void ideal_read(struct ideal *t);

/* The SNR at which 0.9 are found over the ideal's, when carriers of each strength
 * were found so many times of as many tried. */
double ideal_loss_db(const struct ideal *t, const int64_t *found, int64_t tried);

#endif
