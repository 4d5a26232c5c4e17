#ifndef BANDCENSUS_DSP_DESIGNATOR_H
#define BANDCENSUS_DSP_DESIGNATOR_H

#include "dsp/emission.h"
#include "dsp/sketch.h"

#define DESIGNATOR_TEXT 12      /* room for any of these */

/* A bandwidth in four characters, the unit's letter where the point would stand: three
 * digits, halves up, H, K, M or G (47 CFR 2.202(b), ITU Radio Regulations Appendix 1).
 * "0" below a thousandth of a hertz or from 999.5 GHz on. Returns out. */
char *bandwidth_format(char out[DESIGNATOR_TEXT], double hz);

/* Peak deviation that an FM system is built for: 1250, 2500 or 5000 Hz, by the one
 * measured. */
int deviation_system(double measured_hz);

/* Carson's rule: 2 (deviation + highest audio frequency). */
double carson_hz(double deviation_hz, double audio_hz);

/* What a licence would call it, as a hint: "16K0F3E". Voice gets the necessary bandwidth
 * of its system, data the width measured. talks: data in overs as voice has, so that it
 * may be digital voice. "" for what it has no name. Returns out. */
char *designator_format(char out[DESIGNATOR_TEXT], enum kind kind, const struct features *f,
			bool talks);

#endif
