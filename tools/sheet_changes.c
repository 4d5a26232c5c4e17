#include "tools/sheet.h"

#include <string.h>

#include "tools/plan/words.h"

/* "1-3 5 9-12": slots of one bank that stay as they are. */
static void kept(FILE *to, const struct plan *p, int bank)
{
	char line[2000] = "", first[60];
	bool stays[1001] = { false };
	size_t n = 0;
	int many = 0;

	for (int i = 0; i < p->changes; i++)
		if (p->change[i].bank == bank && p->change[i].is == SLOT_KEEP) {
			stays[p->change[i].slot] = true;
			many++;
		}
	if (many == 0)
		return;
	for (int s = 1; s <= 1000 && n < sizeof line; s++) {
		int from = s;
		if (!stays[s])
			continue;
		while (s < 1000 && stays[s + 1])
			s++;
		n += (size_t)snprintf(line + n, sizeof line - n, s > from ? "%s%d-%d" : "%s%d",
				      n ? " " : "", from, s);
	}
	snprintf(first, sizeof first, "  keep %d: slot%s ", many, many == 1 ? "" : "s");
	sheet_wrap(to, first, 11, line);
}

static void one(FILE *to, const struct plan *p, const struct slot_change *c, int digits)
{
	const struct memory *m = c->memory >= 0 ? &p->memory[c->memory] : NULL;
	char was[FREQ_TEXT] = "(empty)", type[FREQ_TEXT] = "(nothing)", shows[FREQ_TEXT] = "",
	     line[700];

	if (c->was_landed.thirds)
		words_typed(c->was_landed, was);
	if (m) {
		words_typed(m->landing.landed, type);
		words_display(m->landing.landed, digits, shows);
	}
	fprintf(to, "  [ ] %3d  %-7s %-11s %-11s %-11s", c->slot, slot_step_name(c->is), was, type,
		shows);
	if (m)
		fprintf(to, " %-4s %4.1f  %c%c ", mode_name(m->mode), 1e-6 * (double)m->delay_us,
			m->locked ? 'L' : '-', m->priority ? 'P' : '-');
	else
		fprintf(to, "%14s", "");
	fprintf(to, "%4d\n", c->keys);
	snprintf(line, sizeof line, "%s%s%s", m ? m->name : c->was,
		 (m ? m->name : c->was)[0] ? "; " : "", c->reason);
	sheet_wrap(to, "           ", 11, line);
}

static void totals(FILE *to, const struct plan *p)
{
	int of[SLOT_STEPS] = { 0 }, keys = 0;

	for (int i = 0; i < p->changes; i++) {
		of[p->change[i].is]++;
		keys += p->change[i].keys;
	}
	fprintf(to,
		"  %d stay as they are, %d to adjust, %d to replace, %d new, %d to clear: about %d "
		"keys\n",
		of[SLOT_KEEP], of[SLOT_ADJUST], of[SLOT_REPLACE], of[SLOT_NEW], of[SLOT_CLEAR],
		keys);
}

void sheet_changes(FILE *to, const struct plan *p, int digits)
{
	if (!p->again)
		return;
	fprintf(to, "\nCHANGES TO WHAT IS IN YOUR SET\n");
	totals(to, p);
	for (int first = 0, end; first < p->changes; first = end) {
		int bank = p->change[first].bank, changed = 0;
		for (end = first; end < p->changes && p->change[end].bank == bank; end++)
			changed += p->change[end].is != SLOT_KEEP;
		fprintf(to, "\n  BANK %d%s\n", bank, changed ? "" : ": no change");
		kept(to, p, bank);
		if (changed)
			fprintf(to, "     SLOT  DO      IN IT NOW   TYPE MHz    SHOWS       MODE "
				    "DELAY LP KEYS\n");
		for (int i = first; i < end; i++)
			if (p->change[i].is != SLOT_KEEP)
				one(to, p, &p->change[i], digits);
	}
}

bool sheet_margin(const struct plan *p, char out[400])
{
	const struct margin *m = &p->margin;

	if (m->told)
		snprintf(out, 400,
			 "By %d channels heard well and %d that were only noise, your set hears "
			 "what is %.0f dB "
			 "over the noise in the survey (%.0f to %.0f dB, 19 times of 20). What "
			 "stays below is left out, "
			 "what is near it is marked as hard to hear.",
			 m->heard, m->noise, m->db, m->likely.low, m->likely.high);
	else
		snprintf(out, 400,
			 "How much your set needs is not known: ticks so far, %d heard well and %d "
			 "only noise "
			 "(it takes %d or more, %d of each, and not at odds).",
			 m->heard, m->noise, TICKS_LEAST, TICKS_EACH);
	return m->heard + m->noise > 0;
}

void sheet_learnt(FILE *to, const struct plan *p)
{
	const struct margin *m = &p->margin;
	char line[400];
	int locked = 0;

	for (int i = 0; i < p->memories; i++)
		locked += p->memory[i].noted == NOTED_LOCKED;
	if (m->heard + m->noise + locked == 0)
		return;
	fprintf(to, "\nLEARNT FROM YOUR TICKS\n");
	if (locked)
		fprintf(to, "  %d locked by you stay%s locked.\n", locked, locked == 1 ? "s" : "");
	sheet_margin(p, line);
	sheet_wrap(to, "  ", 2, line);
}
