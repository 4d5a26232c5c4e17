#include "tools/page/report.h"

#include "tools/plan/words.h"
#include "tools/sheet.h"

void page_channel_link(struct html *h, const struct census *c, int channel)
{
	char to[24], mhz[FREQ_TEXT];

	snprintf(to, sizeof to, "#c%d", channel);
	html_leaf(h, "a", freq_format_mhz(mhz, c->channel[channel].centre), "href", to, NULL);
}

char *page_clock(const struct census *c, int64_t us, char out[TIME_TEXT])
{
	int64_t local = census_local_us(c, us);
	char day[TIME_TEXT], clock[8];

	words_clock(clock, local);
	words_time(day, local);
	if (c->end_us - c->start_us > 24 * HOUR_US)
		snprintf(out, TIME_TEXT, "%.5s %s", day + 5, clock);
	else
		snprintf(out, TIME_TEXT, "%s", clock);
	return out;
}

/* ---- the head ---- */

struct chapter {
	const char *id, *name;
	bool        planned;            /* there when there is a plan */
};

static const struct chapter chapters[] = {
	{ "night", "Picture", false },
	{ "bands", "Bands", false },
	{ "channels", "Channels", false },
	{ "each", "Each channel", false },
	{ "ghosts", "Not stations", false },
	{ "sets", "Plan", true },
	{ "rehearsal", "Rehearsal", true },
	{ "ranges", "Search ranges", true },
	{ "left", "Left out", true },
	{ "incidents", "Incidents", false },
	{ "unknown", "Not known", false },
	{ "cautions", "Cautions", false },
};

static void contents(struct html *h, const struct report *r)
{
	char to[24];

	html_open(h, "nav", "aria-label", "Contents", NULL);
	html_open(h, "ul", NULL);
	for (size_t i = 0; i < sizeof chapters / sizeof chapters[0]; i++) {
		if (chapters[i].planned && !r->plan)
			continue;
		snprintf(to, sizeof to, "#%s", chapters[i].id);
		html_open(h, "li", NULL);
		html_leaf(h, "a", chapters[i].name, "href", to, NULL);
		html_close(h);
	}
	html_close(h);
	html_close(h);
}

static void run(struct html *h, const struct census *c, const struct run_row *row)
{
	char from[TIME_TEXT], until[TIME_TEXT];

	html_leaf(h, "dt", "run", NULL);
	html_open(h, "dd", NULL);
	html_textf(
		h,
		"%s to %s, station %s, source %s; %.3g MS/s, gain %.1f dB, %+.1f ppm, looks of %.3g ms",
		words_local(from, c, row->start_us),
		row->end_us ? words_local(until, c, row->end_us) :
			      "no end kept: still running, or cut off",
		row->station, row->source, row->rate_hz / 1e6, row->gain_ddb / 10.0, row->ppm,
		1e-3 * (double)row->dwell_us);
	html_close(h);
}

static void head(struct html *h, const struct report *r)
{
	const struct census *c = r->told.census;
	char from[TIME_TEXT], until[TIME_TEXT];

	html_open(h, "dl", "class", "facts", NULL);
	html_leaf(h, "dt", "heard", NULL);
	html_open(h, "dd", NULL);
	html_textf(
		h,
		"%d overs on %d channels of %d bands, from %s to %s (%s), at %g dB over the noise or more",
		c->overs, c->channels, c->bands, words_local(from, c, c->start_us),
		words_local(until, c, c->end_us), c->zone, 0.1 * c->squelch_ddb);
	html_close(h);
	for (int i = 0; i < r->runs; i++)
		run(h, c, &r->run[i]);
	html_leaf(h, "dt", "plan", NULL);
	html_leaf(h, "dd", r->plan ? r->plan->receiver : "none: name your set with --receiver",
		  NULL);
	html_close(h);
}

/* ---- what is no station ---- */

void page_ghosts(struct html *h, const struct report *r)
{
	static const char *const heads[] = { "MHz", "what it is", "from", "how that is known",
					     NULL };
	const struct census *c = r->told.census;
	int n = 0;

	page_section(h, "ghosts", "Not stations, or not what they seem");
	page_table(h, "ghosts-h", heads);
	for (int i = 0; i < c->channels; i++) {
		const struct suspect *s = &r->told.suspect[i];
		if (!s->is)
			continue;
		n++;
		html_open(h, "tr", NULL);
		html_open(h, "th", "scope", "row", NULL);
		page_channel_link(h, c, i);
		html_close(h);
		html_leaf(h, "td", suspicion_name(s->is), NULL);
		html_open(h, "td", NULL);
		for (int k = 0; k < 3; k++)
			if ((s->is == SUSPECT_GHOST || s->is == SUSPECT_SPLATTER) &&
			    s->parent[k] >= 0) {
				page_channel_link(h, c, s->parent[k]);
				html_text(h, " ");
			}
		html_close(h);
		html_leaf(h, "td", s->why, NULL);
		html_close(h);
	}
	page_table_end(h);
	if (n == 0)
		html_leaf(h, "p", "none", NULL);
	html_close(h);
}

/* ---- incidents ---- */

static void incidents(struct html *h, const struct report *r)
{
	static const char *const heads[] = { "when", "what", "for", "more", NULL };
	char text[TIME_TEXT];

	page_section(h, "incidents", "Incidents");
	if (r->incidents == 0) {
		html_leaf(h, "p", "none", NULL);
		html_close(h);
		return;
	}
	page_table(h, "incidents-h", heads);
	for (int i = 0; i < r->incidents; i++) {
		const struct incident_row *row = &r->incident[i];
		html_open(h, "tr", NULL);
		html_leaf(h, "th", words_local(text, r->told.census, row->at_us), "scope", "row",
			  NULL);
		html_leaf(h, "td", row->what, NULL);
		snprintf(text, sizeof text, "%.0f s", 1e-6 * (double)(row->until_us - row->at_us));
		html_leaf(h, "td", row->until_us > row->at_us ? text : "", "class", "n", NULL);
		html_leaf(h, "td", row->text, NULL);
		html_close(h);
	}
	page_table_end(h);
	html_close(h);
}

int page_report(FILE *to, const struct report *r)
{
	struct html h = { .to = to };
	struct unknown unknown;
	char title[100];

	if (unknown_find(r->told.census, r->told.suspect, r->told.interests, &unknown) < 0)
		return -1;
	snprintf(title, sizeof title, "What was heard at %s",
		 r->runs ? r->run[0].station : "a place");
	page_begin(&h, title);
	head(&h, r);
	contents(&h, r);
	page_night(&h, r);
	page_bands(&h, r);
	page_channels(&h, r);
	page_each_channel(&h, r);
	page_ghosts(&h, r);
	if (r->plan) {
		page_sets(&h, r->plan, r->told.census);
		page_changes(&h, r->plan, r->receiver->display_digits);
		page_rehearsal(&h, r);
		page_banks(&h, r->plan, r->receiver);
		page_ranges(&h, r->plan, r->receiver);
		page_left_out(&h, r->plan, r->told.census);
	}
	incidents(&h, r);
	page_not_looked(&h, r->told.census, &unknown);
	unknown_free(&unknown);
	page_section(&h, "cautions", "Cautions");
	page_list(&h, sheet_cautions);
	html_close(&h);
	page_end(&h, true);
	return h.failed ? -1 : 0;
}
