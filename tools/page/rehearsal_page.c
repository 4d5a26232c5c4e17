#include "tools/page/report.h"

static double share(double part, double of)
{
	return of > 0 ? part / of : 0;
}

/* Empty where there is nothing to tell of. */
static void cell(struct html *h, bool known, double v, int decimals, const char *unit)
{
	char text[32] = "";

	if (known)
		snprintf(text, sizeof text, "%.*f%s", decimals, v, unit);
	html_leaf(h, "td", text, "class", "n", NULL);
}

static void figures(struct html *h, const struct review *v, const struct part *p)
{
	struct interval met = review_met(p, v->draws);
	char text[60] = "";

	cell(h, true, (double)p->overs / v->draws, 0, "");
	cell(h, p->overs > 0, 100 * share(p->heard, p->overs), 0, " %");
	if (p->exchanges > 0)
		snprintf(text, sizeof text, "%.0f %% (%.0f-%.0f)",
			 100 * share(p->met, p->exchanges), 100 * met.low, 100 * met.high);
	html_leaf(h, "td", text, "class", "n", NULL);
	cell(h, p->heard > 0, share(p->late_s, p->heard), 1, " s");
	cell(h, v->told.seconds > 0, 100 * share(p->held_s, v->told.seconds), 1, " %");
}

static void memory(struct html *h, const struct report *r, const struct review *v,
		   const struct memory *m)
{
	char text[40], to[40];

	html_open(h, "tr", NULL);
	html_open(h, "th", "scope", "row", NULL);
	snprintf(text, sizeof text, "%d-%d", m->bank, m->slot);
	snprintf(to, sizeof to, "#m%d-%d", m->bank, m->slot);
	html_leaf(h, "a", text, "href", to, NULL);
	html_close(h);
	html_open(h, "td", "class", "n", NULL);
	if (m->channel >= 0)
		page_channel_link(h, r->told.census, m->channel);
	html_close(h);
	html_leaf(h, "td", m->name, NULL);
	if (m->channel < 0 || m->locked || v->told.seconds <= 0)
		html_leaf(h, "td",
			  m->channel < 0 ? "nothing was heard here" :
			  m->locked	 ? "locked out" :
					   "not rehearsed: the survey does not say when it looked",
			  "colspan", "5", NULL);
	else
		figures(h, v, &v->line[m->channel]);
	html_close(h);
}

static void bank(struct html *h, const struct report *r, const struct review *v)
{
	const struct part *all = &v->told.all;

	html_open(h, "tr", NULL);
	html_open(h, "th", "scope", "row", "colspan", "3", NULL);
	html_textf(h, "Bank %d alone", __builtin_ctzll(v->banks) + 1);
	html_close(h);
	if (v->scanned > 0 && v->told.seconds > 0)
		figures(h, v, all);
	else
		html_leaf(h, "td", "nothing is scanned, or nothing can be played", "colspan", "5",
			  NULL);
	html_close(h);
	for (int i = 0; i < r->plan->memories; i++)
		if (v->banks >> (r->plan->memory[i].bank - 1) & 1)
			memory(h, r, v, &r->plan->memory[i]);
}

void page_rehearsal(struct html *h, const struct report *r)
{
	static const char *const heads[] = { "memory",        "MHz",  "who",  "overs", "heard",
					     "exchanges met", "late", "held", NULL };

	page_section(h, "rehearsal", "Rehearsal, memory by memory");
	html_leaf(
		h, "p",
		"Each bank by itself, over eight versions of the night that the survey could have been. Overs are of "
		"one of them. Met: exchanges of which any over is heard, with the interval that holds the truth 19 times "
		"of 20. Late: before the receiver came. Held: how long it stands there.",
		NULL);
	page_table(h, "rehearsal-h", heads);
	for (int i = 0; i < r->reviews; i++)
		bank(h, r, &r->review[i]);
	page_table_end(h);
	html_close(h);
}
