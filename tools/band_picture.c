#include "tools/band_picture.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "store/picture.h"
#include "tools/chart.h"
#include "tools/plan/words.h"

#define LARGE_FROM   1200       /* dots across from which letters are twice as large */
#define LEFT_LETTERS 12         /* "1234.56789" and a tick */
#define TICK         3          /* dots, times scale       */
#define MINUTE_US    INT64_C(60000000)

/* Where things are, in dots. */
struct plot {
	struct chart               *c;
	const struct band_picture  *p;
	const struct raster        *raster;
	int                         scale, letter, line;
	int                         x, y, width, height;        /* what is pictured */
};

uint8_t band_picture_cell(const struct band_picture *p, int first, int last, int from, int to)
{
	uint8_t most = STRIP_NOT_LOOKED;
	bool all = true;

	for (int ch = first; ch <= last; ch++) {
		const uint8_t *cell = panorama_channel(p->panorama, p->band, ch);
		for (int i = from; i <= to; i++) {
			most = cell[i] > most ? cell[i] : most;
			all &= cell[i] != STRIP_NOT_LOOKED;
		}
	}
	return most == STRIP_QUIET && !all ? STRIP_NOT_LOOKED : most;
}

/* Of n things spread over so many dots, the first on a dot, and the last. */
static int first_at(int dot, int dots, int n)
{
	return (int)((int64_t)dot * n / dots);
}

static int last_at(int dot, int dots, int n)
{
	int first = first_at(dot, dots, n), next = first_at(dot + 1, dots, n);

	return next > first ? next - 1 : first;
}

/* A large one has large dots, as it has large letters: a single call is to be seen. */
static void cells(const struct plot *t)
{
	int channels = t->raster->count, n = t->p->panorama->cells, s = t->scale;
	int wide = t->width / s, high = t->height / s;

	for (int y = 0; y < high; y++)
		for (int x = 0; x < wide; x++) {
			uint8_t shade = shade_of(band_picture_cell(
			    t->p, first_at(y, high, channels), last_at(y, high, channels),
			    first_at(x, wide, n), last_at(x, wide, n)));
			for (int k = 0; k < s * s; k++)
				chart_shaded(t->c, t->x + x * s + k % s, t->y + y * s + k / s,
					     shade);
		}
}

static void frame(const struct plot *t)
{
	chart_fill(t->c, t->x - 1, t->y - 1, t->width + 2, 1, INK_TEXT);
	chart_fill(t->c, t->x - 1, t->y + t->height, t->width + 2, 1, INK_TEXT);
	chart_fill(t->c, t->x - 1, t->y - 1, 1, t->height + 2, INK_TEXT);
	chart_fill(t->c, t->x + t->width, t->y - 1, 1, t->height + 2, INK_TEXT);
}

/* Hertz from one label to the next: 1, 2 or 5 and zeros, at least so many. */
static double step_hz(double least)
{
	static const double nice[] = { 1, 2, 5, 10 };
	double ten = pow(10, floor(log10(fmax(least, 1)))), step = ten;

	for (size_t i = 0; i < sizeof nice / sizeof nice[0] && step < least; i++)
		step = nice[i] * ten;
	return step;
}

/* As many digits as tell one label from the next. */
static int decimals(double step)
{
	int n = 0;

	for (; n < 6 && fabs(step / 1e6 * pow(10, n) - round(step / 1e6 * pow(10, n))) > 1e-6; n++)
		;
	return n;
}

static void frequencies(const struct plot *t)
{
	double first = freq_to_hz(t->raster->first), channel = (double)t->raster->step.thirds / 3;
	double dot = channel * t->raster->count / t->height, top = first - channel / 2;
	double step = step_hz(fmax(channel, 2.5 * t->line * dot));
	char text[32];

	chart_text(t->c, t->letter, t->y - 3 * t->line / 2, t->scale, "MHz");
	for (long k = lround(ceil(first / step)); step * (double)k < top + dot * t->height; k++) {
		double f = step * (double)k;
		int y = t->y + (int)((f - top) / dot), n;
		n = snprintf(text, sizeof text, "%.*f", decimals(step), f / 1e6);
		chart_fill(t->c, t->x - 1 - TICK * t->scale, y, TICK * t->scale, 1, INK_TEXT);
		chart_text(t->c, t->x - (TICK + 3) * t->scale - n * t->letter, y - 3 * t->scale,
			   t->scale, text);
	}
}

/* The place's time where a dot begins. */
static int64_t local_us(const struct plot *t, int x)
{
	const struct panorama *p = t->p->panorama;

	return census_local_us(t->p->census, p->from_us + (int64_t)((double)x / t->width *
								    p->cells * (double)p->cell_us));
}

/* From one label to the next. */
static int64_t step_us(const struct plot *t, int letters)
{
	static const int minutes[] = {1,   5,	10,   15,   30,	  60,	 120,	180,
				      360, 720, 1440, 2880, 5760, 10080, 20160, 43200};
	const struct panorama *p = t->p->panorama;
	double dot_us = (double)p->cells * (double)p->cell_us / t->width;
	size_t n = sizeof minutes / sizeof minutes[0], i = 0;

	while (i < n - 1 && (double)(minutes[i] * MINUTE_US) < letters * t->letter * dot_us)
		i++;
	return minutes[i] * MINUTE_US;
}

/* Local hours, and the date where a day begins; where the clocks are put back an hour comes twice.
 */
static void hours(const struct plot *t)
{
	int64_t step = step_us(t, 11), before = local_us(t, 0) / step, dated = -1;
	int y = t->y + t->height + 1;
	char text[TIME_TEXT];

	for (int x = 0; x < t->width; x++) {
		int64_t now = local_us(t, x) / step, at = now * step, day = at / STRIP_DAY_US;
		bool exact = x == 0 && local_us(t, 0) % step == 0;
		if (now == before && !exact)
			continue;
		before = now;
		chart_fill(t->c, t->x + x, y, 1, TICK * t->scale, INK_TEXT);
		words_clock(text, at);
		chart_text(t->c, t->x + x - 5 * t->letter / 2, y + (TICK + 2) * t->scale, t->scale,
			   text);
		if (day != dated) {
			words_time(text, at);
			text[10] = '\0';
			chart_text(t->c, t->x + x - 5 * t->letter,
				   y + (TICK + 2) * t->scale + t->line, t->scale, text);
		}
		dated = day;
	}
}

/* One shade, and what it says; returns where the next one goes. */
static int swatch(const struct plot *t, int x, int y, int shade, const char *text)
{
	int width = 2 * t->letter;

	for (int j = 0; j < t->line; j++)
		for (int i = 0; i < width; i++)
			chart_shaded(t->c, x + i, y + j, (uint8_t)shade);
	if (shade < SHADE_HEARD) {
		chart_fill(t->c, x, y, width, 1, INK_FAINT);
		chart_fill(t->c, x, y + t->line - 1, width, 1, INK_FAINT);
		chart_fill(t->c, x, y, 1, t->line, INK_FAINT);
		chart_fill(t->c, x + width - 1, y, 1, t->line, INK_FAINT);
	}
	chart_text(t->c, x + width + t->letter / 2, y + 2 * t->scale, t->scale, text);
	return x + width + ((int)strlen(text) + 1) * t->letter;
}

static void legend(const struct plot *t, int y)
{
	char text[SHADE_TEXT];
	int x = t->letter;

	for (int s = 0; s < SHADE_HEARD; s++)
		x = swatch(t, x, y, s, shade_words(s, text)) + t->letter;
	for (int s = SHADE_HEARD; s < SHADES; s++) {
		snprintf(text, sizeof text, s == SHADES - 1 ? "%d dB" : "%d",
			 (s - SHADE_HEARD) * SHADE_STEP_DB);
		x = swatch(t, x, y, s, text);
	}
}

/* "2 h", "1 min" */
static void length_words(int64_t us, char out[24])
{
	int64_t minutes = us / MINUTE_US;

	snprintf(out, 24, "%" PRId64 " %s", minutes % 60 ? minutes : minutes / 60,
		 minutes % 60 ? "min" : "h");
}

static void notes(const struct plot *t, int y)
{
	const struct panorama *p = t->p->panorama;
	int dots = t->height / t->scale, together = (t->raster->count + dots - 1) / dots;
	char cell[24], kept[24], text[400];

	length_words(p->cell_us, cell);
	length_words(p->kept_us, kept);
	snprintf(text, sizeof text,
		 "Hours of %s. How far over the noise: from so many dB to the next. A dot is the "
		 "strongest "
		 "of what falls on it, cells of %s and up to %d channel%s; it is quiet when all of "
		 "these were looked at, "
		 "and none was heard.%s%s%s",
		 t->p->census->zone, cell, together, together > 1 ? "s" : "",
		 p->kept_us > p->cell_us ? " The survey keeps no finer cells here than " : "",
		 p->kept_us > p->cell_us ? kept : "",
		 p->kept_us == 0 ? " This survey keeps no pictures." : "");
	chart_lines(t->c, t->letter, y, t->scale, t->c->width / t->letter - 2, text);
}

static void title(const struct plot *t)
{
	const struct census *c = t->p->census;
	const struct band *b = &c->band[t->p->band];
	char from[TIME_TEXT], to[TIME_TEXT], text[200];

	snprintf(text, sizeof text, "%s: %s, %s to %s", b->id, b->name,
		 words_local(from, c, c->start_us), words_local(to, c, c->end_us));
	chart_text(t->c, t->letter, t->line / 2, t->scale, text);
}

int band_picture_write(FILE *to, const struct band_picture *p)
{
	struct chart c;
	struct plot t = { .c = &c, .p = p, .raster = &p->census->band[p->band].raster,
			  .scale = p->width < LARGE_FROM ? 1 : 2 };

	if (chart_create(&c, p->width, p->height) < 0)
		return -1;
	t.letter = CHART_LETTER * t.scale;
	t.line = CHART_LINE * t.scale;
	t.x = LEFT_LETTERS * t.letter;
	t.y = 4 * t.line;
	t.width = (p->width - t.x - 4 * t.letter) / t.scale * t.scale;
	t.height = (p->height - t.y - 10 * t.line) / t.scale * t.scale;
	cells(&t);
	frame(&t);
	frequencies(&t);
	hours(&t);
	title(&t);
	legend(&t, t.y + t.height + 4 * t.line);
	notes(&t, t.y + t.height + 6 * t.line);
	int result = chart_write(&c, to);
	chart_free(&c);
	return result;
}
