#include "tools/chart.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "tools/glyphs.h"

#define HATCH 6         /* dots from one line of a hatching to the next */

int chart_create(struct chart *c, int width, int height)
{
	*c = (struct chart){ width, height, malloc((size_t)width * (size_t)height) };
	if (!c->dot)
		return -1;
	memset(c->dot, INK_PAPER, (size_t)width * (size_t)height);
	return 0;
}

void chart_free(struct chart *c)
{
	free(c->dot);
	c->dot = NULL;
}

void chart_dot(struct chart *c, int x, int y, uint8_t ink)
{
	if (x >= 0 && x < c->width && y >= 0 && y < c->height)
		c->dot[(size_t)y * (size_t)c->width + (size_t)x] = ink;
}

void chart_fill(struct chart *c, int x, int y, int width, int height, uint8_t ink)
{
	for (int j = y; j < y + height; j++)
		for (int i = x; i < x + width; i++)
			chart_dot(c, i, j, ink);
}

void chart_shaded(struct chart *c, int x, int y, uint8_t shade)
{
	if (shade == SHADE_NOT_LOOKED)
		shade = (x + y) % HATCH == 0 ? INK_FAINT : INK_PAPER;
	chart_dot(c, x, y, shade);
}

static void letter(struct chart *c, int x, int y, int scale, unsigned char which)
{
	const uint8_t *row =
	    glyph[(which >= GLYPH_FIRST && which < GLYPH_FIRST + GLYPHS ? which : '?') -
		  GLYPH_FIRST];

	for (int j = 0; j < GLYPH_HIGH; j++)
		for (int i = 0; i < GLYPH_WIDE; i++)
			if (row[j] >> (GLYPH_WIDE - 1 - i) & 1)
				chart_fill(c, x + i * scale, y + j * scale, scale, scale, INK_TEXT);
}

/* Bytes of a character after its first. */
static bool goes_on(char byte)
{
	return ((unsigned char)byte & 0xc0) == 0x80;
}

void chart_text(struct chart *c, int x, int y, int scale, const char *text)
{
	for (; *text; text++) {
		if (goes_on(*text))
			continue;
		letter(c, x, y, scale, (unsigned char)*text);
		x += CHART_LETTER * scale;
	}
}

int chart_lines(struct chart *c, int x, int y, int scale, int letters, const char *text)
{
	char line[400];
	int lines = 0;

	while (*text) {
		size_t n = strlen(text),
		       most = (size_t)letters < sizeof line - 1 ? (size_t)letters : sizeof line - 1;
		if (n > most) {
			for (n = most; n > 0 && text[n] != ' '; n--)
				;
			n = n ? n : most;
		}
		memcpy(line, text, n);
		line[n] = '\0';
		chart_text(c, x, y + lines++ * CHART_LINE * scale, scale, line);
		text += n;
		text += *text == ' ';
	}
	return lines;
}

int chart_write(const struct chart *c, FILE *to)
{
	struct png_colour palette[INKS] = {
		[INK_PAPER] = { 255, 255, 255, 255 },
		[INK_TEXT] = { 34, 34, 34, 255 },
		[INK_FAINT] = { 170, 170, 178, 255 },
	};
	size_t n;

	memcpy(palette, shade_palette, sizeof shade_palette);
	uint8_t *file =
	    png_encode(&(struct png_picture){c->width, c->height, c->dot, palette, INKS}, &n);
	if (!file)
		return -1;
	int result = fwrite(file, 1, n, to) == n ? 0 : -1;
	free(file);
	return result;
}
