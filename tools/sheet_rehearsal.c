#include "tools/export.h"

#include "tools/plan/words.h"
#include "tools/sheet.h"

#include <inttypes.h>
#include <math.h>

static double share(double part, double of)
{
	return of > 0 ? part / of : 0;
}

static void head(FILE *to, const struct rehearsed *r)
{
	const struct census *c = r->census;
	char from[TIME_TEXT], until[TIME_TEXT];
	int scanned = 0, silent = 0, noted[NOTED_COUNT] = { 0 };
	char line[4400];

	for (int i = 0; i < r->plan->memories; i++) {
		scanned += !r->plan->memory[i].locked;
		silent += r->plan->memory[i].channel < 0;
	}
	for (int i = 0; i < r->typed->n; i++)
		noted[r->typed->at[i].noted]++;
	fprintf(to, "REHEARSAL\n");
	snprintf(line, sizeof line,
		 "%s: %d memories, %d of them scanned, %d on which nothing was heard", r->path,
		 r->plan->memories, scanned, silent);
	sheet_wrap(to, "plan   ", 7, line);
	if (noted[NOTED_NOTHING] < r->typed->n)
		fprintf(to, "noted  heard: %d yes, %d noise, %d locked (not scanned)\n",
			noted[NOTED_YES], noted[NOTED_NOISE], noted[NOTED_LOCKED]);
	fprintf(to, "on     %s, %g channels a second\n", r->plan->receiver, r->receiver->scan_rate);
	fprintf(to, "heard  %s to %s; all times are %s\n", words_local(from, c, c->start_us),
		words_local(until, c, c->end_us), c->zone);
	if (c->part[0])
		fprintf(to, "only   %s, as you asked; of the rest nothing is said\n", c->part);
	fprintf(to, "read   at a squelch of %g dB over the noise\n\n", 0.1 * c->squelch_ddb);
	sheet_wrap(
		to, "", 0,
		"What the survey saw, played again and the receiver let scan it as it is typed in. Sweeps "
		"see overs from look to look, so each play draws their ends anew; from-to is between plays. MET: "
		"exchanges of which any over is heard, with the interval that holds the truth 19 times of 20 for as "
		"many as the survey has. LATE: before the receiver came, of overs heard. HELD: it stands there, delay "
		"included. CUT: overs left for the priority memory. Counts are of one play. Points are per cent of "
		"the overs of all others in the set.");
}

/* "BANKS 1-3 5", or of one "BANK 4". */
static void title(FILE *to, const struct review *v)
{
	char banks[200];
	bool one = (v->banks & (v->banks - 1)) == 0;

	fprintf(to, "\nBANK%s %s: %d scanned", one ? "" : "S", sheet_banks(banks, v->banks),
		v->scanned);
	if (v->scanned > 0)
		fprintf(to, ", once round in %.2f s when nothing is heard", v->cycle_s);
	fputc('\n', to);
}

/* Why a set has no figures. A rescued survey may have lost when it looked: then there is nothing to
 * play, which is not silence. */
static const char *unplayed(const struct rehearsed *r, const struct review *v)
{
	bool known = false;

	for (int i = 0; i < r->plan->memories; i++) {
		const struct memory *m = &r->plan->memory[i];
		known |= m->channel >= 0 && !m->locked && v->banks >> (m->bank - 1) & 1;
	}
	if (v->scanned == 0)
		return "all its memories are locked out";
	if (v->told.seconds <= 0)
		return "not rehearsed: the survey does not say when it looked";
	return known ? "none of its channels was on in what was played" :
		       "nothing was heard on any of its channels";
}

static void told(FILE *to, const struct rehearsed *r, const struct review *v)
{
	const struct part *all = &v->told.all;
	const struct part *urgent = &v->told.urgent;
	char line[500], hurry[80] = "";

	if (all->overs == 0) {
		sheet_wrap(to, "  ", 2, unplayed(r, v));
		return;
	}
	if (urgent->overs > 0)
		snprintf(hurry, sizeof hurry, ", %.0f %% of those of fire and ambulance",
			 100 * share(urgent->heard, urgent->overs));
	snprintf(
		line, sizeof line,
		"about %.0f %% of %.0f overs heard (%.0f-%.0f)%s, memory by memory and by what you want "
		"%.0f %%; %.1f s late on the average; %.0f %% of "
		"%.0f exchanges met; it stands still %.0f %% of the time; %.1f overs cut for priority",
		100 * share(all->heard, all->overs), (double)all->overs / v->draws, 100 * v->low,
		100 * v->high, hurry, 100 * v->told.value, share(all->late_s, all->heard),
		100 * share(all->met, all->exchanges), (double)all->exchanges / v->draws,
		100 * share(all->held_s, v->told.seconds), (double)all->cut / v->draws);
	sheet_wrap(to, "  ", 2, line);
}

static void burden(FILE *to, const struct rehearsed *r, const struct review *v)
{
	const struct burden *b = &v->burden;
	char f[FREQ_TEXT], line[300];

	if (b->channel < 0)
		return;
	snprintf(line, sizeof line,
		 "%s holds it %.0f %% of the time: %s the others gain %.0f points (%.0f-%.0f), "
		 "%.0f overs of theirs for %.0f of its own",
		 freq_format_mhz(f, r->census->channel[b->channel].centre), 100 * b->held,
		 b->gained > b->lost ? "lock it out and" : "without it", 100 * b->gain,
		 100 * b->low, 100 * b->high, b->gained, b->lost);
	sheet_wrap(to, "  ", 2, line);
}

static void silent(FILE *to, const struct rehearsed *r, const struct memory *m)
{
	int64_t looks = typed_looks(m, r->census, r->receiver);

	if (looks > 0)
		fprintf(to, "nothing heard here in %" PRId64 " looks\n", looks);
	else
		fprintf(to, "not looked at\n");
}

static void figures(FILE *to, const struct review *v, const struct part *p)
{
	struct interval met = review_met(p, v->draws);
	char within[16], late[16] = "-";

	if (p->heard > 0)
		snprintf(late, sizeof late, "%.1f", p->late_s / p->heard);
	snprintf(within, sizeof within, "%.0f-%.0f", 100 * met.low, 100 * met.high);
	fprintf(to, "%6.0f %4.0f %% %6.0f %4.0f %% %-8s %5s %5.1f %% %5.1f",
		(double)p->overs / v->draws, 100 * share(p->heard, p->overs),
		(double)p->exchanges / v->draws, 100 * share(p->met, p->exchanges), within, late,
		100 * share(p->held_s, v->told.seconds), (double)p->cut / v->draws);
}

static void memory_line(FILE *to, const struct rehearsed *r, const struct review *v,
			const struct memory *m)
{
	char typed[FREQ_TEXT];

	fprintf(to, "  %4d %4d  %-11s %c%c  ", m->bank, m->slot,
		words_typed(m->landing.landed, typed), m->locked ? 'L' : '-',
		m->priority ? 'P' : '-');
	if (m->channel < 0) {
		silent(to, r, m);
		return;
	}
	if (m->locked && v->told.seconds <= 0)
		fprintf(to, "locked out");
	else if (m->locked)
		fprintf(to, "locked out, overs that pass by: %.0f",
			(double)v->line[m->channel].overs / v->draws);
	else if (v->line[m->channel].overs == 0)
		fprintf(to, "heard by the survey, but not in what was played");
	else
		figures(to, v, &v->line[m->channel]);
	if (m->same_as.bank)
		fprintf(to, "  as %d-%d", m->same_as.bank, m->same_as.slot);
	fputc('\n', to);
}

static void review(FILE *to, const struct rehearsed *r, const struct review *v)
{
	title(to, v);
	told(to, r, v);
	burden(to, r, v);
	fprintf(to,
		"  BANK SLOT  TYPE MHz    LP   OVERS  HEARD   EXCH MET           LATE s   HELD   CUT\n");
	for (int i = 0; i < r->plan->memories; i++)
		if (v->banks >> (r->plan->memory[i].bank - 1) & 1)
			memory_line(to, r, v, &r->plan->memory[i]);
}

/* Who is probably on each, once: the sets below have only figures. */
static void who(FILE *to, const struct rehearsed *r)
{
	fprintf(to,
		"\nWHO IS ON WHICH\n  BANK SLOT  TYPE MHz    HEARD?  SERVICE        WEIGHT  WHO\n");
	for (int i = 0; i < r->plan->memories; i++) {
		const struct memory *m = &r->plan->memory[i];
		char typed[FREQ_TEXT], first[100];
		snprintf(first, sizeof first, "  %4d %4d  %-11s %-7s %-14.14s %6g  ", m->bank,
			 m->slot, words_typed(m->landing.landed, typed),
			 m->noted ? noted_name(m->noted) : "-", m->service[0] ? m->service : "-",
			 m->weight);
		sheet_wrap(to, first, 61, m->name[0] ? m->name : "-");
	}
}

int sheet_rehearsal(FILE *to, const struct rehearsed *r)
{
	head(to, r);
	who(to, r);
	for (int i = 0; i < r->reviews; i++)
		review(to, r, &r->review[i]);
	return 0;
}
