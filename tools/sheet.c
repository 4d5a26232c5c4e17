#include "tools/export.h"

#include "tools/plan/words.h"
#include "tools/sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WIDE 100
#define WHO  28         /* room for a name at the end of a memory's line */

void sheet_wrap(FILE *to, const char *first, int indent, const char *text)
{
	int at = fprintf(to, "%s", first);

	for (bool begun = false; *text; begun = true) {
		size_t word = strcspn(text, " ");
		if (begun && at + 1 + (int)word > WIDE)
			at = fprintf(to, "\n%*s", indent, "") - 1;
		else if (begun)
			at += fprintf(to, " ");
		at += fprintf(to, "%.*s", (int)word, text);
		text += word;
		text += strspn(text, " ");
	}
	fputc('\n', to);
}

static const char *khz(char out[32], struct freq f)
{
	snprintf(out, 32, "%.5g", freq_to_hz(f) / 1e3);
	return out;
}

static void how_to_read(FILE *to)
{
	for (int i = 0; sheet_how_to_read[i]; i++)
		sheet_wrap(to, "", 0, sheet_how_to_read[i]);
	fputc('\n', to);
}

static void fact(void *self, const char *label, const char *text)
{
	fprintf(self, "%-6s %s\n", label, text);
}

static void head(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r)
{
	fprintf(to, "MEMORIES TO TYPE IN\n");
	say_facts(&(struct saying){ fact, to }, p, c, r);
	fputc('\n', to);
	how_to_read(to);
}

static void notes(FILE *to, const struct plan *p, const struct census *c)
{
	char first[100];

	if (p->notes == 0)
		return;
	fprintf(to,
		"\nWRONG CHANNELS IN THE BAND PLAN (bandcensus rasters gives the lines to mend it)\n");
	for (int i = 0; i < p->notes; i++) {
		snprintf(first, sizeof first, "  %s: ", c->band[p->note[i].band].id);
		sheet_wrap(to, first, 4, p->note[i].text);
	}
}

/* Adds what is there, after a semicolon where something stands before it. */
static void put(char *line, size_t room, const char *before, const char *text)
{
	size_t n = strlen(line);

	if (text[0])
		snprintf(line + n, room - n, "%s%s%s", n ? "; " : "", before, text);
}

/* Why it is there and what is known of it; of a second seat the first one tells. */
static void evidence(FILE *to, const struct memory *m, bool named)
{
	char line[1000] = "", truth[FREQ_TEXT], error[60] = "";

	if (m->landing.error.thirds != 0)
		snprintf(error, sizeof error, "true %s, %+.2f kHz",
			 freq_format_mhz(truth, m->frequency), freq_to_hz(m->landing.error) / 1e3);
	put(line, sizeof line, "", named ? "" : m->name);
	if (m->same_as.bank == 0) {
		put(line, sizeof line, "", m->evidence);
		put(line, sizeof line, "", error);
		put(line, sizeof line, "", m->guess);
		put(line, sizeof line, "listed: ", m->listed);
		put(line, sizeof line, "", m->pair);
	}
	put(line, sizeof line, "", m->reason);
	put(line, sizeof line, "delay: ", m->same_as.bank == 0 ? m->delay_why : "");
	put(line, sizeof line, "", m->hazard);
	sheet_wrap(to, "           ", 11, line);
}

static void memory_line(FILE *to, const struct memory *m, int digits)
{
	char typed[FREQ_TEXT], shows[FREQ_TEXT], step[32];
	bool named = strlen(m->name) <= WHO;    /* else it goes below */

	words_typed(m->landing.landed, typed);
	words_display(m->landing.landed, digits, shows);
	fprintf(to, "  [ ] %3d  %-11s %-11s %-4s %6s %4.1f  %c%c  %-6s %-7s %s\n", m->slot, typed,
		shows, mode_name(m->mode), khz(step, m->landing.step), 1e-6 * (double)m->delay_us,
		m->locked ? 'L' : '-', m->priority ? 'P' : '-', certainty_name(m->certainty),
		m->noted ? noted_name(m->noted) : "______", named ? m->name : "(below)");
	evidence(to, m, named);
}

static void bank(FILE *to, const struct plan *p, int first, int end, const struct receiver *r)
{
	struct sheet_bank_words words;

	sheet_bank_words(p, r, first, end, &words);
	fprintf(to, "\nBANK %d  %s: %s\n", p->memory[first].bank, words.what, words.sum);
	fprintf(to,
		"     SLOT  TYPE MHz    SHOWS       MODE    kHz DELAY LP  SURE   HEARD?  WHO\n");
	for (int i = first; i < end; i++)
		memory_line(to, &p->memory[i], r->display_digits);
}

static void empty_banks(FILE *to, const struct plan *p, const struct receiver *r)
{
	char line[400] = "";
	size_t n = 0;
	int empty = 0;

	for (int bank = 1; bank <= r->banks; bank++) {
		bool used = false;
		for (int i = 0; i < p->memories; i++)
			used |= p->memory[i].bank == bank;
		if (!used && n < sizeof line)
			n += (size_t)snprintf(line + n, sizeof line - n, "%d ", bank);
		empty += !used;
	}
	if (empty == 0)
		return;
	if (n < sizeof line)
		snprintf(line + n, sizeof line - n, " empty: for what you find yourself");
	fputc('\n', to);
	sheet_wrap(to, empty == 1 ? "BANK " : "BANKS ", 6, line);
}

static void ranges(FILE *to, const struct plan *p, const struct receiver *r)
{
	fprintf(to, "\nSEARCH RANGES (%d of %d; the rest is yours)\n", p->searches,
		r->search_ranges);
	if (p->searches > 0)
		fprintf(to, "           LOW MHz     HIGH MHz    MODE    kHz  SWEEP\n");
	for (int i = 0; i < p->searches; i++) {
		const struct search *s = &p->search[i];
		char low[FREQ_TEXT], high[FREQ_TEXT], step[32];
		fprintf(to, "  [ ] %3d  %-11s %-11s %-4s %6s %4.1f s\n", i + 1,
			words_typed(s->low, low), words_typed(s->high, high), mode_name(s->mode),
			khz(step, s->step), s->sweep_s);
		sheet_wrap(to, "           ", 11, s->reason);
	}
	if (p->searches == 0)
		fprintf(to, "  none\n");
}

/* Those that share a reason, below it: "152.660 (114 overs, 50 dB)". */
static void left_together(FILE *to, const struct plan *p, const struct census *c, int from)
{
	int at = 0;

	sheet_wrap(to, "  ", 4, p->left[from].reason);
	for (int i = from; i < p->lefts; i++) {
		const struct channel *ch = &c->channel[p->left[i].channel];
		char mhz[FREQ_TEXT], heard[40] = "always on", item[100 + LISTED_TEXT];
		if (strcmp(p->left[i].reason, p->left[from].reason) != 0)
			continue;
		if (ch->occupancy <= CONTINUOUS_SHARE)
			snprintf(heard, sizeof heard, "%d over%s", ch->overs,
				 ch->overs == 1 ? "" : "s");
		int n = snprintf(item, sizeof item, "%s (%s, %.0f dB%s%s)",
				 freq_format_mhz(mhz, ch->centre), heard, ch->level_db,
				 p->left[i].listed[0] ? ", listed: " : "", p->left[i].listed);
		if (at == 0 || at + 2 + n > WIDE)
			at = fprintf(to, "%s%6s%s", at ? "\n" : "", "", item) - (at > 0);
		else
			at += fprintf(to, "  %s", item);
	}
	fputc('\n', to);
}

static void left_out(FILE *to, const struct plan *p, const struct census *c)
{
	fprintf(to, "\nLEFT OUT, AND WHY\n");
	for (int i = 0; i < p->lefts; i++) {
		const struct channel *ch = &c->channel[p->left[i].channel];
		char mhz[FREQ_TEXT], first[80], heard[160], line[400 + LISTED_TEXT];
		int same = 0, before = 0;
		for (int k = 0; k < p->lefts; k++)
			if (strcmp(p->left[k].reason, p->left[i].reason) == 0) {
				same++;
				before += k < i;
			}
		if (before > 0)
			continue;
		if (same > 1) {
			left_together(to, p, c, i);
			continue;
		}
		words_evidence(c, ch, heard, sizeof heard);
		snprintf(first, sizeof first, "  %-11s ", freq_format_mhz(mhz, ch->centre));
		snprintf(line, sizeof line, "%s; %s%s%s", p->left[i].reason, heard,
			 p->left[i].listed[0] ? "; listed: " : "", p->left[i].listed);
		sheet_wrap(to, first, 4, line);
	}
	if (p->lefts == 0)
		fprintf(to, "  nothing\n");
}

static void cautions(FILE *to)
{
	fprintf(to, "\nCAUTIONS\n");
	for (int i = 0; sheet_cautions[i]; i++)
		sheet_wrap(to, "  - ", 4, sheet_cautions[i]);
}

int sheet_plan(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r)
{
	head(to, p, c, r);
	sheet_sets(to, p, c);
	sheet_learnt(to, p);
	sheet_changes(to, p, r->display_digits);
	notes(to, p, c);
	for (int first = 0, end; first < p->memories; first = end) {
		end = sheet_bank_end(p, first);
		bank(to, p, first, end, r);
	}
	empty_banks(to, p, r);
	ranges(to, p, r);
	left_out(to, p, c);
	sheet_not_looked(to, c, &p->unknown);
	cautions(to);
	return 0;
}
