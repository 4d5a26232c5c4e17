#ifndef BANDCENSUS_TOOLS_GLYPHS_H
#define BANDCENSUS_TOOLS_GLYPHS_H

#include <stdint.h>

/* Letters for pictures, drawn for this program: ASCII from the blank to the tilde, row by row from
 * the top, 5 dots a row, the left one the highest bit. The last row is for what hangs below the line. */
#define GLYPH_WIDE  5
#define GLYPH_HIGH  8
#define GLYPH_FIRST ' '
#define GLYPHS      95

extern const uint8_t glyph[GLYPHS][GLYPH_HIGH];

#endif
