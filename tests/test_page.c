#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "store/picture.h"
#include "tools/page/html.h"
#include "tools/panorama.h"
#include "tools/shade.h"

/* What pages are made of. tests/page/pages.js looks at whole ones in a browser. */

/* ---- escaping ---- */

static const struct {
	const char *why, *text, *shown;
} escapes[] = {
	{ "mark-up is text", "<script>", "&#60;script&#62;" },
	{ "an entity is not made", "&lt;", "&#38;lt;" },
	{ "an attribute is not left", "\" onload='x", "&#34; onload=&#39;x" },
	{ "lines are not turned about", "a\xe2\x80\xae" "b", "a?b" },
	{ "controls are not sent", "a\x01\x1b[1m\nb", "a??[1m?b" },
	{ "bytes that are no UTF-8 are not sent", "a\xff<", "a?&#60;" },
	{ "other letters stay", "Gr\xc3\xbc\xc3\x9f" "e", "Gr\xc3\xbc\xc3\x9f" "e" },
	{ "nothing is nothing", "", "" },
};

/* To be freed. */
static __attribute__((noinline)) char *made(void (*make)(struct html *, const char *), const char *text)
{
	char *out = NULL;
	size_t size;
	struct html h = { .to = open_memstream(&out, &size) };

	assert_non_null(h.to);
	make(&h, text);
	assert_int_equal(h.deep, 0);
	assert_false(h.failed);
	assert_int_equal(fclose(h.to), 0);
	return out;
}

static void plain(struct html *h, const char *text)
{
	html_text(h, text);
}

static void within(struct html *h, const char *text)
{
	html_open(h, "p", "title", text, NULL);
	html_void(h, "br", NULL);
	html_void(h, "path", NULL);
	html_leaf(h, "b", text, NULL);
	html_textf(h, "%s", text);
	html_close(h);
}

static void text_is_escaped_wherever_it_stands(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof escapes / sizeof escapes[0]; i++) {
		const char *s = escapes[i].shown;
		char want[400];
		char *got = made(plain, escapes[i].text);
		if (strcmp(got, s) != 0)
			fail_msg("%s: %s", escapes[i].why, got);
		free(got);
		snprintf(want, sizeof want, "<p title=\"%s\"><br><path></path><b>%s</b>%s</p>", s, s, s);
		got = made(within, escapes[i].text);
		if (strcmp(got, want) != 0)
			fail_msg("%s: %s", escapes[i].why, got);
		free(got);
	}
}

/* ---- the scale ---- */

/* Lightness of CIE 1976 from sRGB (IEC 61966-2-1, D65); both from memory. */
static double lightness(const struct png_colour *c)
{
	const double weight[3] = { 0.2126, 0.7152, 0.0722 };
	const uint8_t v[3] = { c->r, c->g, c->b };
	double y = 0;

	for (int i = 0; i < 3; i++) {
		double s = v[i] / 255.0;
		y += weight[i] * (s <= 0.04045 ? s / 12.92 : pow((s + 0.055) / 1.055, 2.4));
	}
	return y > 0.008856 ? 116 * cbrt(y) - 16 : 903.3 * y;
}

static void the_stronger_the_darker(void **state)
{
	(void)state;
	assert_int_equal(shade_palette[SHADE_NOT_LOOKED].a, 0);
	for (int i = SHADE_QUIET; i + 1 < SHADES; i++) {
		double step = lightness(&shade_palette[i]) - lightness(&shade_palette[i + 1]);
		if (step < (i == SHADE_QUIET ? 12 : 5))
			fail_msg("shade %d is but %.1f darker than the one before", i + 1, step);
	}
}

static void cells_have_their_shade(void **state)
{
	static const struct {
		uint8_t     cell;
		int         shade;
		const char *words;
	} cases[] = {
		{ STRIP_NOT_LOOKED, SHADE_NOT_LOOKED, "not looked at" },
		{ STRIP_QUIET, SHADE_QUIET, "quiet" },
		{ STRIP_HEARD, SHADE_HEARD, "0-4 dB" },
		{ STRIP_HEARD + 3, SHADE_HEARD, "0-4 dB" },
		{ STRIP_HEARD + 4, SHADE_HEARD + 1, "4-8 dB" },
		{ STRIP_HEARD + 43, SHADES - 2, "40-44 dB" },
		{ STRIP_HEARD + 44, SHADES - 1, "44 dB and more" },
		{ STRIP_HEARD + LEVEL_BINS - 1, SHADES - 1, "44 dB and more" },
	};
	char words[SHADE_TEXT];

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		assert_int_equal(shade_of(cases[i].cell), cases[i].shade);
		assert_string_equal(shade_words(cases[i].shade, words), cases[i].words);
	}
}

/* ---- a channel by the time of day ---- */

static int32_t an_hour_ahead(int64_t us)
{
	(void)us;
	return 3600;
}

/* 23:30 at the place one day and 23:45 the next are beside each other; a cell of an hour is in four parts. */
static void days_lie_on_each_other(void **state)
{
	const int64_t midnight = 20000 * STRIP_DAY_US;
	uint8_t cell[2 * 96 + 4] = { 0 }, *band = cell, out[PANORAMA_PARTS];
	struct panorama p = { .from_us = midnight, .cell_us = 15 * STRIP_MINUTE_US, .cells = 2 * 96, .bands = 1,
			      .band = &band };
	struct census c = { .ahead_s = an_hour_ahead };

	(void)state;
	cell[90] = STRIP_HEARD + 7;             /* 22:30 UTC */
	cell[90 + 96] = STRIP_HEARD + 3;        /* the next day weaker, which must not tell */
	cell[91 + 96] = STRIP_QUIET;
	panorama_day(&p, &c, 0, 0, out);
	for (int i = 0; i < PANORAMA_PARTS; i++)
		assert_int_equal(out[i], i == 94 ? STRIP_HEARD + 7 : i == 95 ? STRIP_QUIET : STRIP_NOT_LOOKED);
	memset(cell, 0, sizeof cell);
	cell[10] = STRIP_HEARD;
	p.cell_us = 60 * STRIP_MINUTE_US;
	p.cells = 48;
	panorama_day(&p, &c, 0, 0, out);
	for (int i = 0; i < PANORAMA_PARTS; i++)
		assert_int_equal(out[i], i >= 44 && i < 48 ? STRIP_HEARD : STRIP_NOT_LOOKED);
}

/* ---- pictures ---- */

/* PNG's signature and first chunk (ISO/IEC 15948, 5.2 and 11.2.2), and RFC 4648's alphabet. */
static void a_picture_is_a_png(void **state)
{
	static const uint8_t index[6] = { 0, 1, 2, 3, 4, 13 };
	static const struct png_picture p = { 3, 2, index, shade_palette, SHADES };
	static const uint8_t head[24] = { 0x89, 'P', 'N', 'G', 13, 10, 26, 10, 0, 0, 0, 13, 'I', 'H', 'D', 'R',
					  0, 0, 0, 3, 0, 0, 0, 2 };
	size_t n;
	uint8_t *file = png_encode(&p, &n);
	char *uri = html_picture(&p);

	(void)state;
	assert_non_null(file);
	assert_true(n > sizeof head);
	assert_memory_equal(file, head, sizeof head);
	assert_int_equal(file[25], 3);          /* indexed */
	/* base64 of the signature, as every such URI begins */
	assert_int_equal(strncmp(uri, "data:image/png;base64,iVBORw0KGgoAAAANSUhEUg", 44), 0);
	assert_int_equal(strlen(uri), 22 + (n + 2) / 3 * 4);
	free(uri);
	free(file);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(text_is_escaped_wherever_it_stands),
		cmocka_unit_test(the_stronger_the_darker),
		cmocka_unit_test(cells_have_their_shade),
		cmocka_unit_test(days_lie_on_each_other),
		cmocka_unit_test(a_picture_is_a_png),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
