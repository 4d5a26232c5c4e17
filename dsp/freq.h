#ifndef BANDCENSUS_DSP_FREQ_H
#define BANDCENSUS_DSP_FREQ_H

#include <stddef.h>
#include <stdint.h>

/* A frequency, or a difference of two, in whole thirds of a hertz. A third of
 * 25 kHz is 25000 thirds, so every raster in use is exact, equality is ==, and
 * nothing drifts. double appears only at an edge: the tuner, a spectrum, print. */
struct freq {
	int64_t thirds;
};

#define FREQ_HZ(hz)  ((struct freq){ INT64_C(3) * (int64_t)(hz) })
#define FREQ_KHZ(khz) FREQ_HZ(INT64_C(1000) * (khz))
#define FREQ_TEXT    32         /* room for any freq_format */

static inline double freq_to_hz(struct freq f)
{
	return (double)f.thirds / 3.0;
}

/* The nearest third of a hertz, halves away from zero. */
struct freq freq_from_hz(double hz);

/* Exact decimal hertz: "154235000", or three digits for thirds,
 * "121308333.333". Returns out. */
char *freq_format(char out[FREQ_TEXT], struct freq f);

/* For people: megahertz with as many digits as it needs, at least three:
 * "154.235", "154.2725", "121.308333". Returns out. */
char *freq_format_mhz(char out[FREQ_TEXT], struct freq f);

/* Reads "154235000", "363925000/3", "121308333.333" (a third or two thirds
 * written with three digits or more), each optionally followed by Hz, kHz, MHz
 * or GHz: "25/3 kHz", "118.0 MHz". -1 when it is not a frequency or not a
 * whole number of thirds; out is then untouched. */
int freq_parse(const char *text, struct freq *out);

#endif
