#include "tools/page/pages.h"

#include "tools/plan/words.h"
#include "tools/sheet.h"

static void fact(void *self, const char *name, const char *value)
{
	html_leaf(self, "dt", name, NULL);
	html_leaf(self, "dd", value, NULL);
}

static void head(struct html *h, const struct plan *p, const struct census *c,
		 const struct receiver *r)
{
	html_open(h, "dl", "class", "facts", NULL);
	say_facts(&(struct saying){ fact, h }, p, c, r);
	html_close(h);
	page_paragraphs(h, sheet_how_to_read);
}

static void percent(struct html *h, bool known, double share)
{
	char text[20] = "";

	if (known)
		snprintf(text, sizeof text, "%.0f %%", 100 * share);
	html_leaf(h, "td", text, "class", "n", NULL);
}

static void set_row(struct html *h, const struct bankset *s)
{
	char banks[200], text[40];

	html_open(h, "tr", NULL);
	html_leaf(h, "th", s->name, "scope", "row", NULL);
	html_leaf(h, "td", sheet_banks(banks, s->banks), NULL);
	snprintf(text, sizeof text, "%d", s->scanned);
	html_leaf(h, "td", text, "class", "n", NULL);
	snprintf(text, sizeof text, "%.2f s", s->cycle_s);
	html_leaf(h, "td", text, "class", "n", NULL);
	percent(h, s->overs > 0, s->heard);
	percent(h, s->overs > 0 && s->urgent >= 0, s->urgent);
	percent(h, s->overs > 0, s->met);
	percent(h, s->overs > 0, s->held);
	snprintf(text, sizeof text, s->overs > 0 ? "%.1f s" : "", s->late_s);
	html_leaf(h, "td", text, "class", "n", NULL);
	html_close(h);
}

void page_sets(struct html *h, const struct plan *p, const struct census *c)
{
	static const char *const heads[] = { "set", "banks", "scanned", "once round", "overs heard",
		"fire, ambulance", "exchanges met", "stands still", "late", NULL };
	char line[1000];

	page_section(h, "sets", "Which banks to switch on");
	html_leaf(
		h, "p",
		"Rehearsed: what the survey saw is played again and the receiver let scan through it. Shares are "
		"of what was on in the set's own memories.",
		NULL);
	page_table(h, "sets-h", heads);
	for (int i = 0; i < p->sets; i++)
		set_row(h, &p->set[i]);
	page_table_end(h);
	if (p->sets == 0)
		html_leaf(h, "p", "none: no memory is scanned", NULL);
	if (p->everyday[0])
		html_leaf(h, "p", p->everyday, NULL);
	html_open(h, "dl", "class", "facts", NULL);
	fact(h, "priority", p->priority);
	fact(h, "attenuator", sheet_attenuator(p, c, line));
	if (sheet_margin(p, line))
		fact(h, "your ticks", line);
	html_close(h);
	html_close(h);
}

void page_ranges(struct html *h, const struct plan *p, const struct receiver *r)
{
	static const char *const heads[] = { "in",	 "range", "low MHz", "high MHz", "mode",
					     "step kHz", "sweep", "why",     NULL };
	char text[80];

	page_section(h, "ranges", "Search ranges");
	html_textf(h, "%d of %d; the rest is yours.", p->searches, r->search_ranges);
	page_table(h, "ranges-h", heads);
	for (int i = 0; i < p->searches; i++) {
		const struct search *s = &p->search[i];
		html_open(h, "tr", NULL);
		html_leaf(h, "td", "\u2610", "class", "tick", NULL);
		snprintf(text, sizeof text, "%d", i + 1);
		html_leaf(h, "th", text, "scope", "row", NULL);
		html_leaf(h, "td", words_typed(s->low, text), "class", "type", NULL);
		html_leaf(h, "td", words_typed(s->high, text), "class", "type", NULL);
		html_leaf(h, "td", mode_name(s->mode), NULL);
		snprintf(text, sizeof text, "%.5g", freq_to_hz(s->step) / 1e3);
		html_leaf(h, "td", text, "class", "n", NULL);
		snprintf(text, sizeof text, "%.1f s", s->sweep_s);
		html_leaf(h, "td", text, "class", "n", NULL);
		html_leaf(h, "td", s->reason, NULL);
		html_close(h);
	}
	page_table_end(h);
	html_close(h);
}

/* Each channel with its own reason. */
void page_left_out(struct html *h, const struct plan *p, const struct census *c)
{
	static const char *const heads[] = { "MHz", "heard", "why it was left out", "listed",
					     NULL };
	char mhz[FREQ_TEXT], heard[160];

	page_section(h, "left", "Left out, and why");
	page_table(h, "left-h", heads);
	for (int i = 0; i < p->lefts; i++) {
		const struct left *l = &p->left[i];
		const struct channel *ch = &c->channel[l->channel];
		words_evidence(c, ch, heard, sizeof heard);
		html_open(h, "tr", NULL);
		html_leaf(h, "th", freq_format_mhz(mhz, ch->centre), "scope", "row", NULL);
		html_leaf(h, "td", heard, NULL);
		html_leaf(h, "td", l->reason, NULL);
		html_leaf(h, "td", l->listed, NULL);
		html_close(h);
	}
	page_table_end(h);
	if (p->lefts == 0)
		html_leaf(h, "p", "nothing", NULL);
	html_close(h);
}

static void notes(struct html *h, const struct plan *p, const struct census *c)
{
	if (p->notes == 0)
		return;
	page_section(h, "notes", "Wrong channels in the band plan");
	html_leaf(h, "p", "bandcensus rasters gives the lines to mend it.", NULL);
	html_open(h, "ul", NULL);
	for (int i = 0; i < p->notes; i++) {
		html_open(h, "li", NULL);
		html_textf(h, "%s: %s", c->band[p->note[i].band].id, p->note[i].text);
		html_close(h);
	}
	html_close(h);
	html_close(h);
}

static void say(void *self, const char *label, const char *text)
{
	if (!label || label[0])         /* else it goes on with the one before */
		html_leaf(self, "dt", label ? label : "", NULL);
	html_leaf(self, "dd", text, NULL);
}

void page_not_looked(struct html *h, const struct census *c, const struct unknown *u)
{
	const struct saying shown = { say, h };

	page_section(h, "unknown", "What was not looked at, and is not known");
	html_open(h, "dl", "class", "facts", NULL);
	say_not_looked(&shown, c, u);
	html_close(h);
	html_close(h);
}

int page_sheet(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r)
{
	struct html h = { .to = to };

	page_begin(&h, "Memories to type in");
	head(&h, p, c, r);
	notes(&h, p, c);
	page_sets(&h, p, c);
	page_changes(&h, p, r->display_digits);
	page_banks(&h, p, r);
	page_ranges(&h, p, r);
	page_left_out(&h, p, c);
	page_not_looked(&h, c, &p->unknown);
	page_section(&h, "cautions", "Cautions");
	page_list(&h, sheet_cautions);
	html_close(&h);
	page_end(&h, false);
	return h.failed ? -1 : 0;
}
