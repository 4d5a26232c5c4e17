#ifndef BANDCENSUS_TOOLS_PNG_H
#define BANDCENSUS_TOOLS_PNG_H

#include <stddef.h>
#include <stdint.h>

/* Pictures of few colours (ISO/IEC 15948, indexed). libpng's one home. */

struct png_colour {
	uint8_t r, g, b, a;             /* sRGB; a 0: lets through what lies behind */
};

struct png_picture {
	int                      width, height;         /* both above 0           */
	const uint8_t           *index;                 /* [height][width], < colours */
	const struct png_colour *palette;
	int                      colours;               /* 1 .. 256               */
};

/* The file, in memory, to be freed; *n: its bytes. NULL: no memory. */
uint8_t *png_encode(const struct png_picture *p, size_t *n);

#endif
