#include "tools/page/report.h"

#include "store/strip.h"
#include "tools/shade.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROWS_MOST  320          /* of a band's picture; a row is then several channels */
#define LOOK_HIGH  160          /* pixels that few channels are stretched towards      */
#define ROW_HIGH   8
#define TICKS_MOST 8            /* of time */

/* ---- the scale ---- */

static void swatch(struct html *h, int shade)
{
	const struct png_colour *c = &shade_palette[shade];
	char fill[16], words[SHADE_TEXT];

	snprintf(fill, sizeof fill, "#%02x%02x%02x", c->r, c->g, c->b);
	html_open(h, "li", NULL);
	html_open(h, "svg", "class", "cells", "width", "28", "height", "18", "aria-hidden", "true",
		  NULL);
	if (shade != SHADE_NOT_LOOKED)
		html_void(h, "rect", "width", "28", "height", "18", "fill", fill, NULL);
	html_close(h);
	html_textf(h, " %s", shade_words(shade, words));
	html_close(h);
}

static void legend(struct html *h)
{
	/* In SVG a background does not show: a pattern of its own. */
	html_ours(
		h,
		"<svg class=\"hid\" aria-hidden=\"true\"><defs><pattern id=\"hatch\" width=\"5\" height=\"5\" "
		"patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path class=\"bare\" d=\"M0 0h5v5H0z\">"
		"</path><path class=\"stroke\" d=\"M0 0h1.2v5H0z\"></path></pattern></defs></svg>");
	html_leaf(
		h, "p",
		"Time goes across, frequency down. The darker, the stronger over the noise; on a dark page the "
		"lighter. Hatched is not looked at, and nobody knows what was on there then. Overs weaker than the "
		"squelch are in the picture too.",
		NULL);
	html_open(h, "ul", "class", "legend", "aria-label", "Colour scale", NULL);
	for (int i = 0; i < SHADES; i++)
		swatch(h, i);
	html_close(h);
}

/* ---- one band ---- */

/* How channels and cells lie on the picture. */
struct frame {
	int channels, each, rows;       /* channels, in a row, rows */
	int high;                       /* pixels of a row          */
};

static struct frame frame_of(int channels)
{
	struct frame f = { .channels = channels, .each = (channels + ROWS_MOST - 1) / ROWS_MOST };

	f.rows = (channels + f.each - 1) / f.each;
	f.high = (LOOK_HIGH + f.rows - 1) / f.rows;
	f.high = f.high > ROW_HIGH ? ROW_HIGH : f.high;
	return f;
}

/* Of several channels the strongest; quiet only where all of them were looked at. */
static void join_line(uint8_t *line, const uint8_t *more, size_t wide)
{
	for (size_t i = 0; i < wide; i++) {
		uint8_t low = line[i] < more[i] ? line[i] : more[i],
			high = line[i] < more[i] ? more[i] : line[i];
		line[i] = high >= STRIP_HEARD ? high : low;
	}
}

static char *draw(const struct panorama *p, int band, const struct frame *f)
{
	size_t wide = (size_t)p->cells;
	uint8_t *cell = calloc((size_t)f->rows, wide);
	struct png_picture picture = { p->cells, f->rows, cell, shade_palette, SHADES };
	char *uri = NULL;

	if (!cell)
		return NULL;
	for (int i = 0; i < f->channels; i++) {
		uint8_t *line = cell + (size_t)(i / f->each) * wide;
		if (i % f->each == 0)
			memcpy(line, panorama_channel(p, band, i), wide);
		else
			join_line(line, panorama_channel(p, band, i), wide);
	}
	for (size_t i = 0; i < (size_t)f->rows * wide; i++)
		cell[i] = shade_of(cell[i]);
	uri = html_picture(&picture);
	free(cell);
	return uri;
}

/* Frequencies down the left side, in pixels. */
static void frequencies(struct html *h, const struct band *b, const struct frame *f)
{
	int tall = f->rows * f->high, n = tall / 36 > 1 ? tall / 36 : 1;
	char y[24], height[24], mhz[24];

	snprintf(height, sizeof height, "%d", tall + 20);
	html_open(h, "svg", "class", "left", "width", "84", "height", height, "aria-hidden", "true",
		  NULL);
	for (int i = 0; i <= n; i++) {
		int row = i * (f->rows - 1) / n;
		if (i > 0 && f->rows == 1)
			break;
		snprintf(y, sizeof y, "%d",
			 row * f->high + f->high / 2 +
				 (i == 0 ? 8 :
				  i == n ? 0 :
					   4));
		snprintf(mhz, sizeof mhz, "%.3f",
			 freq_to_hz(raster_centre(&b->raster, row * f->each)) / 1e6);
		html_leaf(h, "text", mhz, "x", "78", "y", y, "text-anchor", "end", NULL);
	}
	html_close(h);
}

/* The first tick, and from one to the next: round times of the place. */
static int64_t ticks(const struct report *r, int64_t *first_us)
{
	static const int minutes[] = { 15, 30, 60, 120, 180, 360, 720, 1440, 2880, 10080, 43200 };
	const struct panorama *p = &r->panorama;
	int64_t span_us = p->cells * p->cell_us, step_us = 0;

	for (size_t i = 0; i < sizeof minutes / sizeof minutes[0]; i++) {
		step_us = minutes[i] * STRIP_MINUTE_US;
		if (span_us / step_us < TICKS_MOST)
			break;
	}
	int64_t over_us = census_local_us(r->told.census, p->from_us) % step_us;
	*first_us = p->from_us + (over_us ? step_us - over_us : 0);
	return step_us;
}

static void times(struct html *h, const struct report *r, int tall)
{
	const struct panorama *p = &r->panorama;
	int64_t span_us = p->cells * p->cell_us, at_us, step_us = ticks(r, &at_us);
	char x[24], y[24], y2[24], clock[TIME_TEXT];

	snprintf(y, sizeof y, "%d", tall + 16);
	snprintf(y2, sizeof y2, "%d", tall + 4);
	for (int i = 0; at_us < p->from_us + span_us; i++, at_us += step_us) {
		double share = (double)(at_us - p->from_us) / (double)span_us;
		snprintf(x, sizeof x, "%.3f%%", 100 * share);
		html_void(h, "line", "x1", x, "x2", x, "y1", "0", "y2", y2, NULL);
		html_leaf(h, "text", page_clock(r->told.census, at_us, clock), "x", x, "y", y,
			  "text-anchor",
			  share < 0.04 ? "start" :
			  share > 0.96 ? "end" :
					 "middle",
			  "class", i % 2 ? "odd" : "even", NULL);
	}
}

static void caption(struct html *h, const struct report *r, int band, const struct frame *f)
{
	const struct census *c = r->told.census;
	const struct band *b = &c->band[band];
	const struct looked *l = &c->looked[band];
	char low[FREQ_TEXT], high[FREQ_TEXT];
	int heard = 0;

	for (int i = 0; i < c->channels; i++)
		heard += c->channel[i].band == band;
	html_open(h, "figcaption", NULL);
	html_leaf(h, "h3", b->name, NULL);
	html_textf(h, "%s-%s MHz every %.5g kHz, %d channels, %d heard",
		   freq_format_mhz(low, raster_centre(&b->raster, 0)),
		   freq_format_mhz(high, raster_last(&b->raster)), freq_to_hz(b->raster.step) / 1e3,
		   b->raster.count, heard);
	if (l->looks == 0)
		html_text(h, "; not looked at");
	else if (l->revisit_s > 0)
		html_textf(h, "; each looked at every %.2g s for %.2g ms", l->revisit_s,
			   1e-3 * (double)l->looked_us / (double)l->looks);
	if (f->each > 1)
		html_textf(
			h,
			"; a line is %d channels: the strongest of them, and hatched where not all were looked at",
			f->each);
	html_ours(h, ". <output class=\"pointed\"></output>");
	html_close(h);
}

static void picture(struct html *h, const struct report *r, int band)
{
	const struct panorama *p = &r->panorama;
	const struct band *b = &r->told.census->band[band];
	struct frame f = frame_of(b->raster.count);
	char *uri = draw(p, band, &f);
	char height[24], tall[24], label[200], data[5][40];

	if (!uri) {
		h->failed = true;
		return;
	}
	snprintf(height, sizeof height, "%d", f.rows * f.high + 20);
	snprintf(tall, sizeof tall, "%d", f.rows * f.high);
	snprintf(label, sizeof label,
		 "Levels in %s by time and frequency; the table of channels has them in figures",
		 b->name);
	snprintf(data[0], sizeof data[0], "%.3f", freq_to_hz(b->raster.first));
	snprintf(data[1], sizeof data[1], "%.6f", freq_to_hz(b->raster.step) * f.each);
	snprintf(data[2], sizeof data[2], "%.0f",
		 1e-3 * (double)census_local_us(r->told.census, p->from_us));
	snprintf(data[3], sizeof data[3], "%.0f", 1e-3 * (double)(p->cells * p->cell_us));
	snprintf(data[4], sizeof data[4], "%d", f.rows);
	html_open(h, "figure", "class", "band", NULL);
	caption(h, r, band, &f);
	html_open(h, "div", "class", "frame", NULL);
	frequencies(h, b, &f);
	html_open(h, "svg", "class", "field", "width", "100%", "height", height, "role", "img",
		  "aria-label", label, "data-hz", data[0], "data-row", data[1], "data-ms", data[2],
		  "data-span", data[3], "data-tall", tall, "data-lines", data[4], NULL);
	html_open(h, "svg", "class", "cells", "width", "100%", "height", tall, NULL);
	html_void(h, "rect", "width", "100%", "height", "100%", "fill", "url(#hatch)", NULL);
	html_void(h, "image", "width", "100%", "height", "100%", "preserveAspectRatio", "none",
		  "href", uri, NULL);
	html_close(h);
	times(h, r, f.rows * f.high);
	html_close(h);
	html_close(h);
	html_close(h);
	html_ours(h, "\n");
	free(uri);
}

void page_night(struct html *h, const struct report *r)
{
	const struct panorama *p = &r->panorama;

	page_section(h, "night", "The picture of the night");
	legend(h);
	if (p->kept_us == 0)
		html_leaf(
			h, "p",
			"This survey keeps no picture: nothing can be said of when channels were looked at.",
			NULL);
	else {
		html_open(h, "p", NULL);
		html_textf(h, "A cell is %.3g min wide. Times are %s.",
			   (double)p->cell_us / STRIP_MINUTE_US, r->told.census->zone);
		if (p->kept_us > p->cell_us)
			html_textf(
				h,
				" Older cells are kept as %.3g min each, the strongest of that time.",
				(double)p->kept_us / STRIP_MINUTE_US);
		html_close(h);
		for (int b = 0; b < p->bands; b++)
			picture(h, r, b);
	}
	html_close(h);
}
