#include "tools/page/pages.h"

#include "tools/plan/words.h"

static void totals(struct html *h, const struct plan *p)
{
	int of[SLOT_STEPS] = { 0 }, keys = 0;

	for (int i = 0; i < p->changes; i++) {
		of[p->change[i].is]++;
		keys += p->change[i].keys;
	}
	html_open(h, "p", NULL);
	html_textf(
		h,
		"%d stay as they are, %d to adjust, %d to replace, %d new, %d to clear: about %d keys",
		of[SLOT_KEEP], of[SLOT_ADJUST], of[SLOT_REPLACE], of[SLOT_NEW], of[SLOT_CLEAR],
		keys);
	html_close(h);
}

static void row(struct html *h, const struct plan *p, const struct slot_change *c, int digits)
{
	const struct memory *m = c->memory >= 0 ? &p->memory[c->memory] : NULL;
	char text[FREQ_TEXT + 40] = "";

	html_open(h, "tr", NULL);
	html_leaf(h, "td", "\u2610", "class", "tick", NULL);
	snprintf(text, sizeof text, "%d-%d", c->bank, c->slot);
	html_leaf(h, "th", text, "scope", "row", NULL);
	html_leaf(h, "td", slot_step_name(c->is), NULL);
	html_leaf(h, "td", c->was_landed.thirds ? words_typed(c->was_landed, text) : "empty", NULL);
	html_leaf(h, "td", m ? words_typed(m->landing.landed, text) : "nothing", "class", "type",
		  NULL);
	html_leaf(h, "td", m ? words_display(m->landing.landed, digits, text) : "", "class",
		  "shows", NULL);
	if (m)
		snprintf(text, sizeof text, "%s %.1f s%s%s", mode_name(m->mode),
			 1e-6 * (double)m->delay_us, m->locked ? " L" : "",
			 m->priority ? " P" : "");
	html_leaf(h, "td", m ? text : "", "class", "set", NULL);
	html_open(h, "td", NULL);
	html_leaf(h, "b", m ? m->name : c->was, NULL);
	html_textf(h, " %s", c->reason);
	html_close(h);
	html_close(h);
}

void page_changes(struct html *h, const struct plan *p, int digits)
{
	static const char *const heads[] = { "done",	  "bank-slot",	  "do",
					     "in it now", "type MHz",	  "shows",
					     "set to",	  "who, and why", NULL };

	if (!p->again)
		return;
	page_section(h, "changes", "Changes to what is in your set");
	totals(h, p);
	page_table(h, "changes-h", heads);
	for (int i = 0; i < p->changes; i++)
		if (p->change[i].is != SLOT_KEEP)
			row(h, p, &p->change[i], digits);
	page_table_end(h);
	html_close(h);
}
