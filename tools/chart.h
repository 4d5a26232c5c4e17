#ifndef BANDCENSUS_TOOLS_CHART_H
#define BANDCENSUS_TOOLS_CHART_H

#include <stdio.h>

#include "tools/shade.h"

/* A picture with words on it: dots in the shades of the air (tools/shade.h) and these inks. */
enum ink {
	INK_PAPER = SHADES,
	INK_TEXT,
	INK_FAINT,                      /* the lines of a hatching */
	INKS
};

struct chart {
	int      width, height;
	uint8_t *dot;                   /* [height][width] */
};

/* Blank paper; -1: no memory. Owned until chart_free. */
int chart_create(struct chart *c, int width, int height);
void chart_free(struct chart *c);

/* What lies outside the paper is cut off. */
void chart_dot(struct chart *c, int x, int y, uint8_t ink);
void chart_fill(struct chart *c, int x, int y, int width, int height, uint8_t ink);

/* A dot of that shade: what was not looked at is hatched. */
void chart_shaded(struct chart *c, int x, int y, uint8_t shade);

/* Letters of CHART_LETTER x CHART_LINE dots, blank included, each as large as scale says; x, y is
 * the upper left corner. What is no ASCII is one '?' a character. */
#define CHART_LETTER 6
#define CHART_LINE   11
void chart_text(struct chart *c, int x, int y, int scale, const char *text);

/* In lines of at most so many letters, broken between words; returns how many lines there are. */
int chart_lines(struct chart *c, int x, int y, int scale, int letters, const char *text);

/* As PNG; -1: no memory. */
int chart_write(const struct chart *c, FILE *to);

#endif
