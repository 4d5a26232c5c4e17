#include "tests/test.h"

#include <stdlib.h>
#include <string.h>

#include <png.h>

#include "store/picture.h"
#include "tools/band_picture.h"
#include "tools/chart.h"
#include "tools/glyphs.h"

/* The picture of a band: what its dots stand for, and the file as libpng reads it back. */

#define CHANNELS 4
#define CELLS    120
#define DAY_US   INT64_C(1772323200000000)      /* 2026-03-01T00:00:00Z */
#define HEARD    (STRIP_HEARD + 30)

struct world {
	struct census   census;
	struct panorama panorama;
	struct band     band;
	uint8_t         cell[CHANNELS * CELLS];
	uint8_t        *bands[1];
};

/* Two hours, the first half not looked at; channel 2 heard in the last quarter. */
static void make(struct world *w)
{
	*w = (struct world){
	    .band = {.id = "fire", .name = "Fire", .raster = {FREQ_KHZ(154000), {37500}, CHANNELS}},
	    .census = {.zone = "UTC",
		       .bands = 1,
		       .start_us = DAY_US,
		       .end_us = DAY_US + 2 * HOUR_US},
	    .panorama = {.from_us = DAY_US,
			 .cell_us = STRIP_MINUTE_US,
			 .cells = CELLS,
			 .kept_us = STRIP_MINUTE_US,
			 .bands = 1},
	};
	w->bands[0] = w->cell;
	w->census.band = &w->band;
	w->panorama.band = w->bands;
	for (int c = 0; c < CHANNELS; c++)
		for (int i = CELLS / 2; i < CELLS; i++)
			w->cell[c * CELLS + i] = c == 2 && i >= CELLS * 3 / 4 ? HEARD : STRIP_QUIET;
}

/* What is not looked at must never look quiet. */
static void a_dot_stands_for(void **state)
{
	static const struct {
		const char *why;
		int         first, last, from, to;
		uint8_t     is;
	} cases[] = {
		{ "nobody looked",                       0, 3, 0, 10, STRIP_NOT_LOOKED },
		{ "all looked at, none heard",           0, 1, 60, 119, STRIP_QUIET },
		{ "one minute of them not looked at",    0, 0, 59, 60, STRIP_NOT_LOOKED },
		{ "one channel heard",                   0, 3, 90, 90, HEARD },
		{ "heard, whatever was not looked at",   2, 2, 0, 119, HEARD },
	};
	struct world w;
	(void)state;

	make(&w);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		const struct band_picture p = { &w.census, &w.panorama, 0, 600, 600 };
		uint8_t got = band_picture_cell(&p, cases[i].first, cases[i].last, cases[i].from,
						cases[i].to);
		if (got != cases[i].is)
			fail_msg("%s: %d, not %d", cases[i].why, got, cases[i].is);
	}
}

/* The file as colours; the caller frees. */
static uint8_t *read_back(const struct band_picture *p, int *width, int *height)
{
	png_image image = { .version = PNG_IMAGE_VERSION };
	char *bytes = NULL;
	size_t n = 0;
	FILE *to = open_memstream(&bytes, &n);

	assert_non_null(to);
	assert_int_equal(band_picture_write(to, p), 0);
	assert_int_equal(fclose(to), 0);
	assert_int_not_equal(png_image_begin_read_from_memory(&image, bytes, n), 0);
	image.format = PNG_FORMAT_RGBA;
	uint8_t *out = malloc(PNG_IMAGE_SIZE(image));
	assert_non_null(out);
	assert_int_not_equal(png_image_finish_read(&image, NULL, out, 0, NULL), 0);
	*width = (int)image.width;
	*height = (int)image.height;
	free(bytes);
	return out;
}

static struct png_colour at(const uint8_t *rgba, int width, int x, int y)
{
	const uint8_t *dot = rgba + 4 * ((size_t)y * (size_t)width + (size_t)x);

	return (struct png_colour){ dot[0], dot[1], dot[2], dot[3] };
}

static bool same(struct png_colour a, struct png_colour b)
{
	return a.r == b.r && a.g == b.g && a.b == b.b && a.a == b.a;
}

/* From left to right along channel 2: hatched, then quiet, then heard, each in its share of the
 * dots; nothing is see-through. */
static void the_file_shows_it(void **state)
{
	static const int sizes[][2] = { { 600, 600 }, { 1600, 1000 }, { 1199, 8000 } };
	struct world w;
	(void)state;

	make(&w);
	for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
		const struct band_picture p = {&w.census, &w.panorama, 0, sizes[i][0], sizes[i][1]};
		int width, height, count[SHADES] = { 0 }, hatched = 0, paper = 0;
		uint8_t *rgba = read_back(&p, &width, &height);
		assert_int_equal(width, sizes[i][0]);
		assert_int_equal(height, sizes[i][1]);
		/* What is pictured lies between the axis and the legend. */
		int scale = width < 1200 ? 1 : 2, top = 44 * scale, high = height - 154 * scale,
		    y = top + high * 5 / 8;
		int left = 72 * scale, wide = width - 96 * scale;
		for (int x = left; x < left + wide; x++) {
			struct png_colour is = at(rgba, width, x, y);
			for (int s = SHADE_QUIET; s < SHADES; s++)
				count[s] += same(is, shade_palette[s]);
			hatched += same(is, (struct png_colour){ 170, 170, 178, 255 });
			paper += same(is, (struct png_colour){ 255, 255, 255, 255 });
		}
		assert_in_range(hatched + paper, wide / 2 - 2, wide / 2 + 2);
		assert_in_range(hatched, wide / 12 - 2, wide / 12 + 2);         /* a dot in six */
		assert_in_range(count[SHADE_QUIET], wide / 4 - 2, wide / 4 + 2);
		assert_in_range(count[shade_of(HEARD)], wide / 4 - 2, wide / 4 + 2);
		for (size_t k = 3; k < 4 * (size_t)width * (size_t)height; k += 4)
			assert_int_equal(rgba[k], 255);
		free(rgba);
	}
}

/* Letters can be told apart and stay in their five columns. */
static void no_two_letters_are_alike(void **state)
{
	(void)state;
	for (int a = 0; a < GLYPHS; a++) {
		for (int r = 0; r < GLYPH_HIGH; r++)
			assert_int_equal(glyph[a][r] >> GLYPH_WIDE, 0);
		for (int b = 0; b < a; b++)
			if (memcmp(glyph[a], glyph[b], GLYPH_HIGH) == 0)
				fail_msg("%c is drawn like %c", a + ' ', b + ' ');
	}
}

/* Words break between words; names of any length and language stay on the paper. */
static void words_stay_on_paper(void **state)
{
	struct chart c;
	(void)state;

	assert_int_equal(chart_create(&c, 60, 60), 0);
	assert_int_equal(chart_lines(&c, 0, 0, 1, 10, "one two three four"), 2);
	assert_int_equal(chart_lines(&c, 0, 0, 1, 10, "unbreakableword"), 2);
	assert_int_equal(chart_lines(&c, 0, 0, 1, 10, ""), 0);
	memset(c.dot, INK_PAPER, 3600);
	chart_text(&c, -20, -3, 3, "\xc3\xa9\xe2\x82\xac off the edge of it");
	chart_text(&c, 55, 58, 2, "x");
	chart_fill(&c, -5, -5, 200, 200, INK_TEXT);
	for (int i = 0; i < 3600; i++)
		assert_int_equal(c.dot[i], INK_TEXT);
	chart_free(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_dot_stands_for),
		cmocka_unit_test(the_file_shows_it),
		cmocka_unit_test(no_two_letters_are_alike),
		cmocka_unit_test(words_stay_on_paper),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
