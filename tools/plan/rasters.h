#ifndef BANDCENSUS_TOOLS_PLAN_RASTERS_H
#define BANDCENSUS_TOOLS_PLAN_RASTERS_H

#include "dsp/spacing.h"
#include "tools/plan/suspect.h"

/* Whether each band was surveyed on the raster that its users keep to. Pure. */

enum raster_word {
	RASTER_NOT_JUDGED = 0,  /* broadcast FM: its carriers may be 2 kHz off       */
	RASTER_TOO_FEW,         /* heard: not two centres                            */
	RASTER_NOT_SURE,
	RASTER_DOUBTFUL,        /* the one surveyed it is not, but which is not sure */
	RASTER_NONE,            /* they keep to no raster                            */
	RASTER_RIGHT,           /* the one surveyed                                  */
	RASTER_FITS,            /* the one surveyed is finer, and has all its channels */
	RASTER_WRONG            /* plans made of this survey have wrong frequencies  */
};

struct raster_told {
	enum raster_word       word;
	struct spacing         surveyed;
	int                    heard;   /* centres that told: stations, not what we made */
	struct spacing_verdict verdict;
	double                 low_hz, high_hz;         /* of the centres                */
};

/* "not judged", "too few", "not sure", "doubtful", "none", "right", "fits", "WRONG". */
const char *raster_word_name(enum raster_word w);

/* One for each band of the census, to be freed with free; NULL: no memory. */
struct raster_told *rasters_all(const struct census *c, const struct suspect *s);

#define SPACING_TEXT 48
/* "12.5 kHz", "12.5 kHz + 6.25", "25/3 kHz"; "no raster" for a step of 0. Returns out. */
char *rasters_spacing_words(const struct spacing *s, char out[SPACING_TEXT]);

/* What to say of a wrong one: "12.5 kHz explains 9 of 9 centres heard, the 25 kHz it was
 * surveyed on does not (odds 4e+06 to 1)". Returns out. */
char *rasters_words(const struct raster_told *t, char *out, size_t size);

#define RASTER_LINE_TEXT 600
/* The line for the band plan file that puts it right, from the lowest to the highest
 * channel that it had or that was heard. Returns out. */
char *rasters_line(const struct band *b, const struct raster_told *t, char out[RASTER_LINE_TEXT]);

#endif
