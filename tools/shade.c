#include "tools/shade.h"

#include "store/strip.h"

#include <stdio.h>

/* OKLCh: lightness 0.84 down to 0.18, hue from 75 to -30 degrees, chroma 0.11 to 0.08. */
const struct png_colour shade_palette[SHADES] = {
	{ 255, 255, 255, 0 },
	{ 246, 244, 235, 255 },
	{ 245, 192, 118, 255 },
	{ 235, 167, 97, 255 },
	{ 224, 142, 81, 255 },
	{ 211, 118, 71, 255 },
	{ 195, 95, 66, 255 },
	{ 176, 73, 65, 255 },
	{ 154, 54, 65, 255 },
	{ 131, 38, 63, 255 },
	{ 106, 25, 60, 255 },
	{ 81, 14, 54, 255 },
	{ 57, 5, 45, 255 },
	{ 35, 1, 34, 255 },
};

uint8_t shade_of(uint8_t cell)
{
	if (cell < STRIP_HEARD)
		return cell == STRIP_QUIET ? SHADE_QUIET : SHADE_NOT_LOOKED;
	int step = (cell - STRIP_HEARD) / SHADE_STEP_DB;
	return (uint8_t)(SHADE_HEARD + step < SHADES ? SHADE_HEARD + step : SHADES - 1);
}

char *shade_words(int shade, char out[SHADE_TEXT])
{
	int db = (shade - SHADE_HEARD) * SHADE_STEP_DB;

	if (shade < SHADE_HEARD)
		snprintf(out, SHADE_TEXT, "%s", shade == SHADE_QUIET ? "quiet" : "not looked at");
	else if (shade < SHADES - 1)
		snprintf(out, SHADE_TEXT, "%d-%d dB", db, db + SHADE_STEP_DB);
	else
		snprintf(out, SHADE_TEXT, "%d dB and more", db);
	return out;
}
