#ifndef BANDCENSUS_DSP_BAND_H
#define BANDCENSUS_DSP_BAND_H

#include "dsp/raster.h"

enum mode {
	MODE_NONE = 0,
	MODE_AM,
	MODE_NFM,
	MODE_WFM,
	MODE_COUNT
};

/* "none", "AM", "NFM", "WFM". */
const char *mode_name(enum mode m);

/* The mode of that name, any case; MODE_COUNT when there is none. */
enum mode mode_named(const char *name);

/* A stretch of spectrum that one service uses on one raster. */
struct band {
	char          id[24];           /* short, unique: "air", "marine-coast"     */
	char          name[64];         /* for people                               */
	char          service[24];      /* fire, air, marine, ...: names an interest */
	struct raster raster;
	enum mode     mode;             /* what a receiver would be set to          */
	int32_t       width_hz;         /* occupied width of its usual emission     */
};

/* Half a step beyond the outermost centres: what the band claims. */
struct freq band_low(const struct band *b);
struct freq band_high(const struct band *b);

/* The part of a channel in which its power is measured, in hertz: 0.6 of the
 * step or of the usual emission, whichever is wider. On a raster finer than
 * the emission neighbouring measurements overlap. */
double band_measured_hz(const struct band *b);

#endif
