#ifndef BANDCENSUS_TOOLS_SHADE_H
#define BANDCENSUS_TOOLS_SHADE_H

#include "tools/png.h"

/* The colour scale of pictures of the air. The stronger, the darker, each step by as much (but the first, which
 * is larger, so that weak and quiet are told apart): it reads alike in print, for the colour-blind and the
 * wrong way round, light on dark. What was not looked at has no colour: hatch what shows through. */
enum shade {
	SHADE_NOT_LOOKED = 0,           /* transparent */
	SHADE_QUIET,
	SHADE_HEARD,                    /* the weakest */
	SHADES = SHADE_HEARD + 12
};

#define SHADE_STEP_DB 4

extern const struct png_colour shade_palette[SHADES];

/* Of a strip's cell (store/strip.h). */
uint8_t shade_of(uint8_t cell);

/* "not looked at", "quiet", "0-4 dB", "44 dB and more". Returns out. */
#define SHADE_TEXT 40
char *shade_words(int shade, char out[SHADE_TEXT]);

#endif
