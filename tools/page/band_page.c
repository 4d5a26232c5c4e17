#include "tools/page/report.h"

#include "tools/plan/occupancy.h"

static void figure(struct html *h, int digits, double v)
{
	html_open(h, "td", "class", "n", NULL);
	html_textf(h, "%.*f", digits, v);
	html_close(h);
}

static void band(struct html *h, const struct census *c, int b)
{
	const struct looked *l = &c->looked[b];
	struct band_use u = occupancy_of_band(c, b);

	html_open(h, "tr", NULL);
	html_leaf(h, "th", c->band[b].id, "scope", "row", NULL);
	if (l->looks == 0) {
		html_leaf(h, "td", "not looked at", "colspan", "8", NULL);
		html_close(h);
		return;
	}
	figure(h, 3, (double)l->looked_us / HOUR_US);
	figure(h, 0, (double)l->looks);
	figure(h, 2, l->revisit_s);
	figure(h, 1, l->floor_dbfs);
	figure(h, 0, (double)l->clipped);
	figure(h, 0, 100 * l->share);
	html_open(h, "td", "class", "n", NULL);
	if (u.sro > 0)
		html_textf(h, "%.3f (%.3f-%.3f)", 100 * u.sro, 100 * u.sro_likely.low,
			   100 * u.sro_likely.high);
	else
		html_textf(h, "< %.1g", 100 * u.sro_likely.high);
	html_close(h);
	html_open(h, "td", NULL);
	if (u.busy_hour >= 0 && u.busy_hour_sro > 0)
		html_textf(h, "%02d-%02d h", u.busy_hour, (u.busy_hour + 1) % DAY_HOURS);
	html_close(h);
	html_close(h);
}

/* ---- hours of the week: signs, so that no colour is needed ---- */

static const char week_sign[WEEK_STATES] = {
	[WEEK_NOT_LOOKED] = '?', [WEEK_QUIET] = '.', [WEEK_HEARD] = '#'
};

static void week_day(struct html *h, const char *id, const struct week *w, int day)
{
	char line[DAY_HOURS + 1] = "";
	bool any = false;

	for (int k = 0; k < DAY_HOURS; k++) {
		enum week_state is = week_state(&w->cell[day * DAY_HOURS + k]);
		any |= is != WEEK_NOT_LOOKED;
		line[k] = week_sign[is];
	}
	if (!any)
		return;
	html_open(h, "tr", NULL);
	html_leaf(h, "th", id, "scope", "row", NULL);
	html_leaf(h, "td", week_day_name(day), NULL);
	html_open(h, "td", NULL);
	html_leaf(h, "code", line, NULL);
	html_close(h);
	html_close(h);
}

static void week(struct html *h, const struct census *c)
{
	static const char *const heads[] = { "band", "day", "hours 0 to 24", NULL };

	html_open(h, "details", NULL);
	html_leaf(h, "summary", "By the hours of the week", "id", "week-h", NULL);
	html_open(h, "p", NULL);
	html_textf(
		h,
		"Hours of %s: # heard, . quiet, ? not looked at. Days that are not there were not looked at.",
		c->zone);
	html_close(h);
	page_table(h, "week-h", heads);
	for (int b = 0; b < c->bands; b++)
		for (int d = 0; d < WEEK_HOURS / DAY_HOURS; d++)
			week_day(h, c->band[b].id, &c->week[b], d);
	page_table_end(h);
	html_close(h);
}

void page_bands(struct html *h, const struct report *r)
{
	static const char *const heads[] = {
		"band",     "looked at, h",  "looks a channel", "revisit s", "floor dBFS",
		"overload", "% of channels", "in use %",        "busy hour", NULL
	};
	const struct census *c = r->told.census;

	page_section(h, "bands", "Bands");
	html_leaf(
		h, "p",
		"Looked at: how long the receiver listened to each channel; in the rest of the time it was elsewhere, "
		"which is not the same as quiet. In use: the mean over its channels (SRO of Rec. ITU-R SM.1880), with its "
		"95 % interval.",
		NULL);
	page_table(h, "bands-h", heads);
	for (int b = 0; b < c->bands; b++)
		band(h, c, b);
	page_table_end(h);
	week(h, c);
	html_close(h);
}
