#include "tools/page/pages.h"

#include "tools/plan/words.h"
#include "tools/sheet.h"

#include <string.h>

#define VALUE 24

/* ---- what is the same for many is said once: the keys that toggle it are pressed in a row ---- */

static void mode_of(const struct memory *m, char out[VALUE])
{
	snprintf(out, VALUE, "%s", mode_name(m->mode));
}

static void step_of(const struct memory *m, char out[VALUE])
{
	snprintf(out, VALUE, "%.5g kHz", freq_to_hz(m->landing.step) / 1e3);
}

static void delay_of(const struct memory *m, char out[VALUE])
{
	snprintf(out, VALUE, "%.1f s", 1e-6 * (double)m->delay_us);
}

static void lock_of(const struct memory *m, char out[VALUE])
{
	snprintf(out, VALUE, "%s", m->locked ? "on" : "off");
}

static void priority_of(const struct memory *m, char out[VALUE])
{
	snprintf(out, VALUE, "%s", m->priority ? "on" : "off");
}

static const struct {
	const char *name;
	void      (*of)(const struct memory *m, char out[VALUE]);
	const char *usual;              /* as a new memory has it: not said; NULL: none */
} toggles[] = {
	{ "mode", mode_of, NULL },
	{ "step", step_of, NULL },
	{ "delay", delay_of, NULL },
	{ "lockout (L)", lock_of, "off" },
	{ "priority (P)", priority_of, "off" },
};

/* "1-4, 7": the slots whose value is that of the first. */
static void slots_alike(struct html *h, const struct memory *m, int n, int first,
			void (*of)(const struct memory *, char[VALUE]))
{
	char want[VALUE], is[VALUE];
	bool any = false;

	of(&m[first], want);
	for (int i = first, end; i < n; i = end) {
		of(&m[i], is);
		end = i + 1;
		if (strcmp(is, want) != 0)
			continue;
		for (; end < n && m[end].slot == m[end - 1].slot + 1; end++) {
			of(&m[end], is);
			if (strcmp(is, want) != 0)
				break;
		}
		html_textf(h, any ? ", %d" : "%d", m[i].slot);
		if (end - i > 1)
			html_textf(h, "-%d", m[end - 1].slot);
		any = true;
	}
}

static bool told_before(const struct memory *m, int i,
			void (*of)(const struct memory *, char[VALUE]))
{
	char is[VALUE], other[VALUE];

	of(&m[i], is);
	for (int k = 0; k < i; k++) {
		of(&m[k], other);
		if (strcmp(is, other) == 0)
			return true;
	}
	return false;
}

static void grouped(struct html *h, const struct memory *m, int n)
{
	char value[VALUE];

	html_open(h, "dl", "class", "facts toggles", NULL);
	for (size_t t = 0; t < sizeof toggles / sizeof toggles[0]; t++)
		for (int i = 0; i < n; i++) {
			toggles[t].of(&m[i], value);
			if (told_before(m, i, toggles[t].of) ||
			    (toggles[t].usual && strcmp(value, toggles[t].usual) == 0))
				continue;
			html_open(h, "dt", NULL);
			html_textf(h, "%s %s", toggles[t].name, value);
			html_close(h);
			html_open(h, "dd", NULL);
			html_text(h, "slots ");
			slots_alike(h, m, n, i, toggles[t].of);
			html_close(h);
		}
	html_close(h);
}

/* ---- memory by memory ---- */

static void part(struct html *h, const char *before, const char *text)
{
	if (text[0])
		html_textf(h, "; %s%s", before, text);
}

static void who(struct html *h, const struct memory *m)
{
	char truth[FREQ_TEXT], error[60] = "";

	if (m->landing.error.thirds != 0)
		snprintf(error, sizeof error, "true %s, %+.2f kHz",
			 freq_format_mhz(truth, m->frequency), freq_to_hz(m->landing.error) / 1e3);
	html_open(h, "td", "colspan", "5", "class", "who", NULL);
	html_leaf(h, "b", m->name, NULL);
	html_open(h, "small", NULL);
	part(h, "", certainty_name(m->certainty));
	if (m->same_as.bank == 0) {     /* else the first seat tells */
		part(h, "", m->evidence);
		part(h, "", error);
		part(h, "", m->guess);
		part(h, "listed: ", m->listed);
		part(h, "", m->pair);
	}
	part(h, "", m->reason);
	part(h, "delay: ", m->same_as.bank == 0 ? m->delay_why : "");
	part(h, "", m->hazard);
	html_close(h);
	html_close(h);
}

static void memory_row(struct html *h, const struct memory *m, int digits)
{
	char text[FREQ_TEXT + 40], id[32];

	snprintf(id, sizeof id, "m%d-%d", m->bank, m->slot);
	html_open(h, "tbody", "id", id, NULL);
	html_open(h, "tr", NULL);
	html_leaf(h, "td", "\u2610", "class", "tick", "rowspan", "2", NULL);
	snprintf(text, sizeof text, "%d", m->slot);
	html_leaf(h, "th", text, "scope", "rowgroup", "rowspan", "2", NULL);
	html_leaf(h, "td", words_typed(m->landing.landed, text), "class", "type", NULL);
	html_leaf(h, "td", words_display(m->landing.landed, digits, text), "class", "shows", NULL);
	snprintf(text, sizeof text, "%s %.5g", mode_name(m->mode),
		 freq_to_hz(m->landing.step) / 1e3);
	html_leaf(h, "td", text, "class", "set", NULL);
	snprintf(text, sizeof text, "%.1f", 1e-6 * (double)m->delay_us);
	html_leaf(h, "td", text, "class", "set", NULL);
	snprintf(text, sizeof text, "%s%s%s", m->locked ? "L" : "",
		 m->locked && m->priority ? " " : "", m->priority ? "P" : "");
	html_leaf(h, "td", text, "class", "lp", NULL);
	html_leaf(h, "td", noted_name(m->noted), "class", "heard", "rowspan", "2", NULL);
	html_close(h);
	html_open(h, "tr", NULL);
	who(h, m);
	html_close(h);
	html_close(h);
	html_ours(h, "\n");
}

static void bank(struct html *h, const struct plan *p, int first, int end, const struct receiver *r)
{
	static const char *const heads[] = { "in",      "slot", "type MHz", "shows", "mode, kHz",
					     "delay s", "L P",  "heard?",   NULL };
	char id[24], title[100], heading[30];
	struct sheet_bank_words words;

	sheet_bank_words(p, r, first, end, &words);
	snprintf(id, sizeof id, "bank-%d", p->memory[first].bank);
	snprintf(heading, sizeof heading, "%s-h", id);
	snprintf(title, sizeof title, "Bank %d: %s", p->memory[first].bank, words.what);
	html_ours(h, "\n");
	html_open(h, "section", "id", id, "class", "bank", "aria-labelledby", heading, NULL);
	html_leaf(h, "h2", title, "id", heading, NULL);
	html_leaf(h, "p", words.sum, NULL);
	grouped(h, &p->memory[first], end - first);
	html_open(h, "div", "class", "wide", "tabindex", "0", "role", "region", "aria-labelledby",
		  heading, NULL);
	html_open(h, "table", "class", "memories", NULL);
	page_heads(h, heads);
	for (int i = first; i < end; i++)
		memory_row(h, &p->memory[i], r->display_digits);
	html_close(h);
	html_close(h);
	html_close(h);
}

static void empty_banks(struct html *h, const struct plan *p, const struct receiver *r)
{
	bool any = false;

	for (int b = 1; b <= r->banks; b++) {
		bool used = false;
		for (int i = 0; i < p->memories; i++)
			used |= p->memory[i].bank == b;
		if (used)
			continue;
		if (!any)
			html_open(h, "p", "class", "empty", NULL);
		html_textf(h, any ? ", %d" : "Banks left empty, for what you find yourself: %d", b);
		any = true;
	}
	if (any)
		html_close(h);
}

void page_banks(struct html *h, const struct plan *p, const struct receiver *r)
{
	for (int first = 0, end; first < p->memories; first = end) {
		end = sheet_bank_end(p, first);
		bank(h, p, first, end, r);
	}
	empty_banks(h, p, r);
}
