#include "tools/export.h"

#include "tools/words.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WIDE 100

/* Prints text after an indent, broken between words so that no line is too wide. */
static void wrap(FILE *to, const char *first, int indent, const char *text)
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

/* Keys of an entry: its digits, the point, and enter (common practice: the slot
 * follows by itself); a key each for mode, step and delay that differ from the
 * line before. */
static int keys_of(const struct memory *m, const struct memory *before)
{
	char typed[FREQ_TEXT];
	int n = (int)strlen(words_typed(m->landing.landed, typed)) + 1;

	n += !before || before->mode != m->mode;
	n += !before || before->landing.step.thirds != m->landing.step.thirds;
	n += !before || before->delay_us != m->delay_us;
	return n + m->locked + m->priority;
}

static void head(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r)
{
	char from[TIME_TEXT], until[TIME_TEXT];
	int live = 0;

	for (int i = 0; i < p->memories; i++)
		live += !p->memory[i].locked;
	fprintf(to, "MEMORIES TO TYPE IN\n");
	fprintf(to, "for    %s (%d banks of %d)\n", p->receiver, r->banks, r->memories);
	fprintf(to, "heard  %s to %s; all times of day are UTC\n", words_time(from, c->start_us),
		words_time(until, c->end_us));
	fprintf(to, "read   at a squelch of %g dB over the noise\n", 0.1 * c->squelch_ddb);
	fprintf(to,
		"gives  %d memories, %d of them scanned, %d search ranges, %d channels left out\n\n",
		p->memories, live, p->searches, p->lefts);
	wrap(to, "", 0,
	     "Type a frequency as it stands under TYPE; then the display should show what stands "
	     "under SHOWS. L: lock it out of the scan. P: priority. Tick [ ] when it is in. The names are guesses "
	     "from the band plan unless you gave them.");
	fputc('\n', to);
}

static void sets(FILE *to, const struct plan *p)
{
	fprintf(to, "WHICH BANKS TO SWITCH ON\n");
	for (int i = 0; i < p->sets; i++) {
		const struct bankset *s = &p->set[i];
		char banks[200] = "";
		size_t n = 0;
		for (int b = 0; b < 64; b++)
			if (s->banks >> b & 1 && n < sizeof banks - 8)
				n += (size_t)snprintf(banks + n, sizeof banks - n, "%s%d",
						      n ? " " : "", b + 1);
		fprintf(to, "  %-20s bank %-16s %3d scanned, once round in %.2f s\n", s->name,
			banks, s->scanned, s->cycle_s);
	}
	if (p->sets == 0)
		fprintf(to, "  none: no memory is scanned\n");
	wrap(to, "  Priority: ", 12, p->priority);
}

static void memory_line(FILE *to, const struct memory *m, int digits)
{
	char typed[FREQ_TEXT], shows[FREQ_TEXT], step[32], truth[FREQ_TEXT], line[600];

	words_typed(m->landing.landed, typed);
	words_display(m->landing.landed, digits, shows);
	fprintf(to, "  [ ] %3d  %-10s %-11s %-4s %6s %4.1f  %c%c  %-6s %.36s\n", m->slot, typed,
		shows, mode_name(m->mode), khz(step, m->landing.step), 1e-6 * (double)m->delay_us,
		m->locked ? 'L' : '-', m->priority ? 'P' : '-', certainty_name(m->certainty),
		m->name);
	int n = snprintf(line, sizeof line, "%s", m->evidence);
	if (m->landing.error.thirds != 0)
		n += snprintf(line + n, sizeof line - (size_t)n, "; true %s, %+.2f kHz",
			      freq_format_mhz(truth, m->frequency),
			      freq_to_hz(m->landing.error) / 1e3);
	snprintf(line + n, sizeof line - (size_t)n, "%s%s; %s", m->pair[0] ? "; " : "", m->pair,
		 m->reason);
	wrap(to, "           ", 11, line);
}

static void bank(FILE *to, const struct plan *p, int first, int end, const struct receiver *r)
{
	int keys = 0, live = 0;
	bool mixed = false;

	for (int i = first; i < end; i++) {
		keys += keys_of(&p->memory[i], i > first ? &p->memory[i - 1] : NULL);
		live += !p->memory[i].locked;
		mixed |= strcmp(p->memory[i].family, p->memory[first].family) != 0;
	}
	fprintf(to, "\nBANK %d  %s%s: %d memor%s, %d scanned, %d left empty, about %d keys\n",
		p->memory[first].bank, p->memory[first].family, mixed ? " and more" : "", end - first,
		end - first == 1 ? "y" : "ies", live, r->memories - (end - first), keys);
	fprintf(to, "     SLOT  TYPE MHz   SHOWS       MODE  kHz  DELAY L/P SURE   WHO\n");
	for (int i = first; i < end; i++)
		memory_line(to, &p->memory[i], r->display_digits);
}

static void ranges(FILE *to, const struct plan *p, const struct receiver *r)
{
	fprintf(to, "\nSEARCH RANGES (%d of %d; the rest is yours)\n", p->searches,
		r->search_ranges);
	for (int i = 0; i < p->searches; i++) {
		const struct search *s = &p->search[i];
		char low[FREQ_TEXT], high[FREQ_TEXT], step[32];
		fprintf(to, "  [ ] %2d  %s to %s  %s, %s kHz steps, %.1f s a sweep\n", i + 1,
			words_typed(s->low, low), words_typed(s->high, high), mode_name(s->mode),
			khz(step, s->step), s->sweep_s);
		wrap(to, "          ", 10, s->reason);
	}
	if (p->searches == 0)
		fprintf(to, "  none\n");
}

static void left_out(FILE *to, const struct plan *p, const struct census *c)
{
	fprintf(to, "\nLEFT OUT, AND WHY\n");
	for (int i = 0; i < p->lefts; i++) {
		const struct channel *ch = &c->channel[p->left[i].channel];
		char mhz[FREQ_TEXT], first[80], line[360];
		snprintf(first, sizeof first, "  %-12s ", freq_format_mhz(mhz, ch->centre));
		snprintf(line, sizeof line, "%s; %d over%s, median %.0f dB", p->left[i].reason,
			 ch->overs, ch->overs == 1 ? "" : "s", ch->level_db);
		wrap(to, first, 15, line);
	}
	if (p->lefts == 0)
		fprintf(to, "  nothing\n");
}

/* Bands that were not looked at in the same hours share a line. */
static void not_looked_in(FILE *to, const struct census *c, int from)
{
	uint32_t of_day = c->looked[from].of_day;
	char hours[160], line[4000];
	int n = 0;
	size_t at;

	for (int b = 0; b < c->bands; b++)
		n += c->looked[b].of_day == of_day;
	words_hours(~of_day & 0xffffff, hours, sizeof hours);
	at = (size_t)snprintf(line, sizeof line, "%s: %s", of_day ? hours : "never",
			      n == c->bands ? "all bands" : "");
	for (int b = from, k = 0; b < c->bands && n < c->bands; b++)
		if (c->looked[b].of_day == of_day && at < sizeof line)
			at += (size_t)snprintf(line + at, sizeof line - at, "%s%s", k++ ? ", " : "",
					       c->band[b].id);
	wrap(to, "  ", 4, line);
}

static void not_looked(FILE *to, const struct census *c)
{
	fprintf(to, "\nWHAT WAS NOT LOOKED AT\n");
	for (int b = 0; b < c->bands; b++) {
		bool told = c->looked[b].of_day == 0xffffff;
		for (int k = 0; k < b; k++)
			told |= c->looked[k].of_day == c->looked[b].of_day;
		if (!told)
			not_looked_in(to, c, b);
	}
	wrap(to, "  ", 2,
	     "Not looked at is not quiet. Users of other hours and other days of the week (buses, schools, "
	     "clubs, works) are not known, not absent. Survey again by day, and on a weekend.");
}

static void cautions(FILE *to)
{
	static const char *const lines[] = {
		("Rules on receiving differ by country and service, some forbid certain services or a scanner in a "
		 "car. This sheet is no legal advice and cannot know yours: check local law."),
		"Never act on what you hear, never go there, never pass on, publish or stream it.",
		"Cellular, cordless and private telephones are never proposed; data is counted, never decoded.",
		"Keep this sheet and the survey to yourself: they tell when others talk.",
		"The dongle and its antenna are not your set and its antenna: let your ear decide.",
	};

	fprintf(to, "\nCAUTIONS\n");
	for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
		wrap(to, "  - ", 4, lines[i]);
}

int sheet_plan(FILE *to, const struct plan *p, const struct census *c, const struct receiver *r)
{
	head(to, p, c, r);
	sets(to, p);
	for (int first = 0, end; first < p->memories; first = end) {
		for (end = first; end < p->memories && p->memory[end].bank == p->memory[first].bank;
		     end++)
			;
		bank(to, p, first, end, r);
	}
	ranges(to, p, r);
	left_out(to, p, c);
	not_looked(to, c);
	cautions(to);
	return 0;
}
