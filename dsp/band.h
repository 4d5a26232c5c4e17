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

#define BAND_SPLITS 4

/* A stretch of spectrum that one service uses on one raster. */
struct band {
	char          id[24];           /* short, unique: "air", "marine-coast"     */
	char          name[64];         /* for people                               */
	char          service[24];      /* fire, air, marine, ...: names an interest */
	struct raster raster;
	enum mode     mode;             /* what a receiver would be set to          */
	int32_t       width_hz;         /* occupied width of its usual emission     */
	struct freq   split[BAND_SPLITS];       /* from an output in it to that one's input, or from the */
					/* shore to the ships; below is negative. 0: no more */
};

/* Half a step beyond the outermost centres: what the band claims. */
struct freq band_low(const struct band *b);
struct freq band_high(const struct band *b);

/* The part of a channel in which its power is measured, in hertz: 0.6 of the
 * step or of the usual emission, whichever is wider. On a raster finer than
 * the emission neighbouring measurements overlap. */
double band_measured_hz(const struct band *b);

/* "15000000 -1800000": its splits in thirds of a hertz; "" when there is none. Returns out. */
#define BAND_SPLITS_TEXT 96
char *band_splits_text(const struct band *b, char out[BAND_SPLITS_TEXT]);

/* The same read back. -1: it is no such text, of at most 1 GHz each; b is as it was. */
int band_splits_parse(struct band *b, const char *text);

#endif
