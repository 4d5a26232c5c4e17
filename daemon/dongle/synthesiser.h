#ifndef BANDCENSUS_DAEMON_DONGLE_SYNTHESISER_H
#define BANDCENSUS_DAEMON_DONGLE_SYNTHESISER_H

#include <stdbool.h>
#include <stdint.h>

/* Where an R820T tuner driven by librtlsdr 0.6.0 really stands. Its synthesiser
 * goes in steps (27 Hz at 100 MHz, 440 Hz at 900 MHz) and the library rounds to
 * kilohertz on the way, so that it lands up to 1.4 kHz from what it was asked for
 * and still answers with what it was asked. Pure arithmetic, in whole numbers
 * as the registers hold them. */

/* Whether that holds for a tuner of this name: "R820T" (the R820T2 and R860 call
 * themselves so). The R828D has another crystal, the others another synthesiser:
 * take what was asked for there. */
bool synthesiser_covers(const char *tuner);

/* The intermediate frequency at that rate: what lies twice as far above the
 * window's middle comes in mirrored. */
int32_t synthesiser_if_hz(int32_t rate_hz);

/* What the registers hold after a rate, a whole correction and a centre were set. */
struct synthesiser {
	int32_t  whole, fraction;       /* N, and 65536ths                             */
	int32_t  divider;               /* of the VCO: 2, 4 .. 64; 0: out of reach     */
	int32_t  if_steps;              /* digital IF in steps of crystal / 2^22       */
};

struct synthesiser synthesiser_set(int32_t asked_hz, int32_t rate_hz, int whole_ppm);

/* The radio frequency in the window's middle with a crystal that is off by
 * crystal_ppm, + is high; NAN when out of reach. */
double synthesiser_hz(const struct synthesiser *s, double crystal_ppm);

/* The two in one for a perfect crystal and no correction; asked_hz when out of
 * reach (centres from about 26 to 1766 MHz are within). */
double synthesiser_lands_hz(int32_t asked_hz, int32_t rate_hz);

/* The same with the library's correction at whole_ppm and a crystal that is off by
 * crystal_ppm: where it truly stands. */
double synthesiser_stands_hz(int32_t asked_hz, int32_t rate_hz, int whole_ppm, double crystal_ppm);

/* What to ask for so as to land nearest to wanted_hz, given the same; the lower
 * one of two alike. */
int32_t synthesiser_ask_hz(double wanted_hz, int32_t rate_hz, int whole_ppm, double crystal_ppm);

#endif
