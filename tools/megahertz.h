#ifndef BANDCENSUS_TOOLS_MEGAHERTZ_H
#define BANDCENSUS_TOOLS_MEGAHERTZ_H

#include "dsp/freq.h"

#define MEGAHERTZ_ALLOWED "0.1 to 6000 MHz such as 154.235"

/* Megahertz as people list them: digits and a point alone, no sign, no exponent, no locale. A
 * rounded third of 25 kHz is the nearest third of a hertz. -1: it is none, or out of range. */
int megahertz_read(const char *text, struct freq *out);

#endif
