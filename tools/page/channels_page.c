#include "tools/page/report.h"

#include "tools/plan/words.h"
#include "tools/shade.h"

#include <stdlib.h>

/* ---- strips: one picture for all channels, each shows its row of it ---- */

static void sprite(struct html *h, const char *id, const struct png_picture *p)
{
	char *uri = html_picture(p), wide[16], high[16];

	if (!uri) {
		h->failed = true;
		return;
	}
	snprintf(wide, sizeof wide, "%d", p->width);
	snprintf(high, sizeof high, "%d", p->height);
	html_void(h, "image", "id", id, "width", wide, "height", high, "href", uri, NULL);
	free(uri);
}

static void sprites(struct html *h, const struct report *r)
{
	const struct census *c = r->told.census;
	const struct panorama *p = &r->panorama;
	size_t n = (size_t)c->channels;
	uint8_t *day = NULL, *night = NULL;

	if (n == 0)
		return;
	day = calloc(n, PANORAMA_PARTS);
	night = malloc(n * (size_t)p->cells);
	if (!day || !night) {
		h->failed = true;
		goto out;
	}
	for (size_t i = 0; i < n; i++) {
		const struct channel *ch = &c->channel[i];
		const uint8_t *cell = panorama_channel(p, ch->band, ch->channel);
		panorama_day(p, c, ch->band, ch->channel, day + i * PANORAMA_PARTS);
		for (int k = 0; k < p->cells; k++)
			night[i * (size_t)p->cells + (size_t)k] = shade_of(cell[k]);
	}
	for (size_t i = 0; i < n * PANORAMA_PARTS; i++)
		day[i] = shade_of(day[i]);
	html_open(h, "svg", "class", "hid", "aria-hidden", "true", NULL);
	html_open(h, "defs", NULL);
	sprite(h, "days",
	       &(struct png_picture){ PANORAMA_PARTS, c->channels, day, shade_palette, SHADES });
	sprite(h, "nights",
	       &(struct png_picture){ p->cells, c->channels, night, shade_palette, SHADES });
	html_close(h);
	html_close(h);
out:
	free(day);
	free(night);
}

void page_strip(struct html *h, const char *class, const char *of, int row, int wide)
{
	char box[60];

	/* Less than the row, lest a neighbour shows at its edge. */
	snprintf(box, sizeof box, "0 %d.2 %d .6", row, wide);
	html_open(h, "svg", "class", class, "viewBox", box, "preserveAspectRatio", "none",
		  "aria-hidden", "true", NULL);
	html_void(h, "use", "href", of, NULL);
	html_close(h);
}

/* ---- the table ---- */

/* A column: how it sorts, and what stands in a row of it. */
struct column {
	const char *head, *sort;        /* "number", "text"; NULL: it does not */
	void      (*cell)(struct html *h, const struct report *r, int i);
};

static void cell_frequency(struct html *h, const struct report *r, int i)
{
	page_channel_link(h, r->told.census, i);
}

static void cell_band(struct html *h, const struct report *r, int i)
{
	html_text(h, r->told.census->band[r->told.census->channel[i].band].id);
}

void page_who(struct html *h, const struct report *r, int i)
{
	const struct channel *ch = &r->told.census->channel[i];
	struct guess g[GUESSES];
	char listed[LISTED_TEXT];

	if (r->outcome[i].memory)
		html_text(h, r->outcome[i].memory->name);
	else if (told_guess(&r->told, i, g) > 0)
		html_textf(h, "probably %s", g[0].who);
	if (*licences_words(r->told.licences, ch->centre,
			    r->told.census->band[ch->band].raster.step, listed))
		html_textf(h, "; listed: %s", listed);
}

static void cell_kind(struct html *h, const struct report *r, int i)
{
	html_text(h, kind_name(r->told.census->channel[i].kind));
}

static void cell_overs(struct html *h, const struct report *r, int i)
{
	html_textf(h, "%d", r->told.census->channel[i].overs);
}

static void cell_exchanges(struct html *h, const struct report *r, int i)
{
	html_textf(h, "%d", r->told.census->channel[i].exchanges);
}

/* Per cent, to two digits or so. */
static const char *percent(double share, char out[24])
{
	double v = 100 * share;

	if (v > 0 && v < 0.001)
		snprintf(out, 24, "<0.001");
	else
		snprintf(out, 24, "%.*f",
			 v >= 9.95 || v <= 0 ? 0 :
			 v >= 0.95	     ? 1 :
			 v >= 0.095	     ? 2 :
					       3,
			 v);
	return out;
}

static void cell_busy(struct html *h, const struct report *r, int i)
{
	const struct channel *ch = &r->told.census->channel[i];

	char low[24], high[24];

	html_text(h, percent(ch->occupancy, low));
	html_textf(h, " (%s-%s)", percent(ch->likely.low, low), percent(ch->likely.high, high));
}

static void cell_level(struct html *h, const struct report *r, int i)
{
	html_textf(h, "%.0f", r->told.census->channel[i].level_db);
}

/* Hours of the place's day in which it was heard, by its overs: bit h. */
static uint32_t hours_heard(const struct census *c, const struct channel *ch)
{
	uint32_t hours = 0;

	for (int i = 0; i < ch->overs; i++) {
		const struct over *o = &c->over[ch->over + i];
		int64_t first = census_local_us(c, o->first_us) / HOUR_US,
			last = census_local_us(c, o->last_us) / HOUR_US;
		for (int64_t h = first; h <= last && h < first + DAY_HOURS; h++)
			hours |= UINT32_C(1) << (h % DAY_HOURS);
	}
	return hours;
}

/* In words too, for who does not see the strip, and for paper: a browser would print the whole
 * picture for each row of it. */
static void cell_day(struct html *h, const struct report *r, int i)
{
	const struct census *c = r->told.census;
	char hours[160];

	page_strip(h, "day cells", "#days", i, PANORAMA_PARTS);
	html_leaf(h, "span", words_hours(hours_heard(c, &c->channel[i]), hours, sizeof hours),
		  "class", "hours", NULL);
}

static void cell_fate(struct html *h, const struct report *r, int i)
{
	const struct outcome *o = &r->outcome[i];
	char place[40];

	if (o->memory) {
		snprintf(place, sizeof place, "#m%d-%d", o->memory->bank, o->memory->slot);
		html_open(h, "a", "href", place, NULL);
		html_textf(h, "%d-%d", o->memory->bank, o->memory->slot);
		html_close(h);
	} else if (r->told.suspect[i].is) {
		html_text(h, suspicion_name(r->told.suspect[i].is));
	} else if (o->left) {
		html_text(h, "left out");
	}
}

static const struct column columns[] = {
	{ "MHz", "number", cell_frequency },
	{ "band", "text", cell_band },
	{ "who", "text", page_who },
	{ "kind", "text", cell_kind },
	{ "overs", "number", cell_overs },
	{ "exchanges", "number", cell_exchanges },
	{ "busy %", "number", cell_busy },
	{ "dB", "number", cell_level },
	{ "hours 0-24", NULL, cell_day },
	{ "memory, or what is amiss", "text", cell_fate },
};

#define COLUMNS ((int)(sizeof columns / sizeof columns[0]))

/* Hidden until the script, without which they do nothing, shows them. */
static void tools(struct html *h, const struct census *c)
{
	html_open(h, "div", "class", "tools", "id", "tools", "hidden", "", NULL);
	html_ours(
		h,
		"<label>Search <input id=\"search\" type=\"search\" placeholder=\"155.2, fire, data\"></label> "
		"<label>Band <select id=\"band\"><option value=\"\">all</option>");
	for (int b = 0; b < c->bands; b++)
		html_leaf(h, "option", c->band[b].id, NULL);
	html_ours(
		h,
		"</select></label> <label>Overs at least <input id=\"least\" type=\"number\" min=\"0\" value=\"0\">"
		"</label> <output id=\"shown\"></output>");
	html_close(h);
}

static void heads(struct html *h)
{
	html_open(h, "thead", NULL);
	html_open(h, "tr", NULL);
	for (int k = 0; k < COLUMNS; k++) {
		if (columns[k].sort)
			html_leaf(h, "th", columns[k].head, "scope", "col", "data-sort",
				  columns[k].sort, NULL);
		else
			html_leaf(h, "th", columns[k].head, "scope", "col", NULL);
	}
	html_close(h);
	html_close(h);
}

static void row(struct html *h, const struct report *r, int i)
{
	html_open(h, "tr", NULL);
	for (int k = 0; k < COLUMNS; k++) {
		if (k == 0)
			html_open(h, "th", "scope", "row", NULL);
		else
			html_open(h, "td", NULL);
		columns[k].cell(h, r, i);
		html_close(h);
	}
	html_close(h);
	html_ours(h, "\n");
}

void page_channels(struct html *h, const struct report *r)
{
	const struct census *c = r->told.census;

	page_section(h, "channels", "Channels");
	sprites(h, r);
	html_open(h, "p", NULL);
	html_textf(
		h,
		"%d channels had an over of %g dB or more. Busy: share of looks, with the interval that holds the truth 19 "
		"times of 20. Hours: by the clock of %s, all days together; hatched: not looked at.",
		c->channels, 0.1 * c->squelch_ddb, c->zone);
	html_close(h);
	tools(h, c);
	html_open(h, "div", "class", "wide", "tabindex", "0", "role", "region", "aria-labelledby",
		  "channels-h", NULL);
	html_open(h, "table", "id", "list", NULL);
	heads(h);
	html_open(h, "tbody", NULL);
	for (int i = 0; i < c->channels; i++)
		row(h, r, i);
	html_close(h);
	html_close(h);
	html_close(h);
	html_close(h);
}
