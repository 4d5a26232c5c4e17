#ifndef BANDCENSUS_TESTS_LIQUID_SIGNALS_H
#define BANDCENSUS_TESTS_LIQUID_SIGNALS_H

#include <complex.h>
#include <stddef.h>
#include <stdint.h>

#include "tests/noise.h"

/* Signals made by liquid-dsp's modulators, so that what the detector is tried on
 * was not written by those who wrote the detector. */
enum signal {
	SIGNAL_CARRIER = 0,
	SIGNAL_AM,              /* voice, peaks at 85 % modulation           */
	SIGNAL_NFM,             /* voice, 2.5 kHz peak deviation: 11 kHz     */
	SIGNAL_NFM_WIDE,        /* voice, 5 kHz peak deviation: 16 kHz       */
	SIGNAL_2FSK,            /* 2400 Bd, shift 2400 Hz                    */
	SIGNAL_4FSK,            /* 4800 Bd, outer levels about +-2 kHz       */
	SIGNAL_WFM,             /* music-like, 50 kHz peak deviation         */
	SIGNALS
};

const char *signal_name(enum signal s);

/* Adds n samples of a signal of that mean power at hz from the centre. The seed
 * picks voice and data, and where in them it begins. rate: a whole multiple of
 * 240 kS/s, and two or more of them for SIGNAL_WFM. */
void signal_add(float complex *iq, size_t n, double rate, enum signal s, double power, double hz,
		uint64_t seed);

/* Continuous-phase keying between 2^bits levels, the outer ones deviation_hz from the
 * middle; smoothed. */
struct fsk {
	double   rate_hz, baud, deviation_hz;
	unsigned bits;
};

/* Seeded data, amplitude 1, from a transmitter already running. */
void fsk_make(struct noise *r, const struct fsk *c, float complex *out, size_t n);

#endif
