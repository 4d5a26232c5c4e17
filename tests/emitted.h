#ifndef BANDCENSUS_TESTS_EMITTED_H
#define BANDCENSUS_TESTS_EMITTED_H

#include <complex.h>

#include "dsp/emission.h"
#include "tests/spoken.h"

/* Emissions of every kind, modulated by liquid-dsp. */
struct emitted {
	const char *why;
	enum kind   kind;
	double      channel_hz;         /* what is filtered out for it           */
	enum {
		BY_CARRIER, BY_AM, BY_FM, BY_FSK, BY_GMSK, BY_SUBCARRIER, BY_PSK, BY_MUSIC, BY_HASH,
		BY_KEYING, BY_SSB
	} by;
	double      deviation_hz;       /* peak; AM: depth                       */
	double      baud;
	int         bits;               /* of a symbol                           */
	struct spoken spoken;
};

extern const struct emitted emitted[];
extern const int emitted_rows;

/* Adds n samples of that mean power at hz from the centre. rate: a multiple of 240 kS/s,
 * of 480 kS/s for BY_MUSIC and BY_HASH. */
void emitted_add(float complex *iq, size_t n, double rate, const struct emitted *e, double power,
		 double hz, uint64_t seed);

#endif
