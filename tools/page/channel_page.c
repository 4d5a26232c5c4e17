#include "tools/page/report.h"

/* ---- each by itself: there are thousands, so that what is known of one is lines of one paragraph ---- */

static void fact(struct html *h, const char *name, const char *value)
{
	if (!value[0])
		return;
	html_textf(h, "%s: %s", name, value);
	html_ours(h, "\n");
}

static void heard(struct html *h, const struct census *c, const struct channel *ch)
{
	char from[TIME_TEXT], until[TIME_TEXT];

	if (ch->overs == 0)
		return;
	html_textf(h, "heard: %d over%s in %d exchange%s, %s to %s", ch->overs,
		   ch->overs == 1 ? "" : "s", ch->exchanges, ch->exchanges == 1 ? "" : "s",
		   page_clock(c, ch->first_us, from), page_clock(c, ch->last_us, until));
	html_ours(h, "\n");
	html_textf(
		h,
		"level: median %.0f dB over the noise, strongest %.0f; %+.2f kHz off its centre (%.2f between 10 and "
		"90 %%)",
		ch->level_db, ch->peak_db, ch->offset_hz / 1e3, ch->offset_spread_hz / 1e3);
	html_ours(h, "\n");
}

/* Why it is where it is. */
static void fate(struct html *h, const struct report *r, int i)
{
	const struct outcome *o = &r->outcome[i];
	const struct suspect *s = &r->told.suspect[i];

	if (o->memory) {
		html_textf(h, "in memory: bank %d slot %d, %s: %s", o->memory->bank,
			   o->memory->slot, certainty_name(o->memory->certainty),
			   o->memory->reason);
		html_ours(h, "\n");
	}
	if (o->left)
		fact(h, "left out", o->left->reason);
	else if (s->is)
		fact(h, suspicion_name(s->is), s->why);
}

static void channel(struct html *h, const struct report *r, int i)
{
	const struct census *c = r->told.census;
	const struct channel *ch = &c->channel[i];
	char id[24], text[400], mhz[FREQ_TEXT];
	struct guess g[GUESSES];
	int n = told_guess(&r->told, i, g);

	snprintf(id, sizeof id, "c%d", i);
	html_open(h, "details", NULL);
	html_open(h, "summary", NULL);
	html_textf(h, "%s ", freq_format_mhz(mhz, ch->centre));
	page_who(h, r, i);
	html_close(h);
	html_open(h, "div", "id", id, NULL);
	page_strip(h, "long cells", "#nights", i, r->panorama.cells);
	page_bars(h, c, ch);
	html_open(h, "p", NULL);
	if (n > 1)
		fact(h, "who", guess_words(g, n, text));
	heard(h, c, ch);
	fact(h, "use", traffic_words(&ch->traffic, text, sizeof text));
	fact(h, "carries", nature_words(&ch->nature, text, sizeof text));
	fact(h, "pair", pair_evidence(c, i, text, sizeof text));
	fact(h, "speakers", speakers_words(channel_speakers(ch)));
	page_spread(h, c, ch);
	fate(h, r, i);
	html_close(h);
	html_close(h);
	html_close(h);
	html_ours(h, "\n");
}

void page_each_channel(struct html *h, const struct report *r)
{
	const struct census *c = r->told.census;
	char from[TIME_TEXT], until[TIME_TEXT];
	int band = -1;

	page_section(h, "each", "Each channel by itself");
	html_open(h, "p", NULL);
	html_textf(
		h,
		"The strips go from %s to %s. The bars are how long overs were seen, the gaps between them, and their "
		"levels, each from little to much, as the lines below say in figures; use is what is behind what was "
		"seen.",
		page_clock(c, r->panorama.from_us, from),
		page_clock(c, r->panorama.from_us + r->panorama.cells * r->panorama.cell_us,
			   until));
	html_close(h);
	for (int i = 0; i < c->channels; i++) {
		if (c->channel[i].band != band) {
			band = c->channel[i].band;
			html_leaf(h, "h3", c->band[band].name, NULL);
		}
		channel(h, r, i);
	}
	html_close(h);
}
