#ifndef BANDCENSUS_TOOLS_BAND_PICTURE_H
#define BANDCENSUS_TOOLS_BAND_PICTURE_H

#include <stdio.h>

#include "tools/panorama.h"

/* One band over the time of a census: time across, frequency down, with axes and legend. A dot
 * stands for all channels and cells that fall on it: the strongest that was heard; nothing heard and
 * one of them not looked at is not looked at; else quiet. */
struct band_picture {
	const struct census   *census;
	const struct panorama *panorama;
	int                    band;
	int                    width, height;   /* dots, BAND_PICTURE_LOW .. _HIGH */
};

#define BAND_PICTURE_LOW  600
#define BAND_PICTURE_HIGH 8000

/* Writes it as PNG (ISO/IEC 15948). -1: no memory, or the file can't be written. */
int band_picture_write(FILE *to, const struct band_picture *p);

/* What one dot stands for: channels first .. last of the band, cells from .. to. */
uint8_t band_picture_cell(const struct band_picture *p, int first, int last, int from, int to);

#endif
