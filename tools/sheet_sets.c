#include "tools/sheet.h"

#define LOST_TOLD 8             /* who would be lost: so many by name */

const char *sheet_banks(char out[200], uint64_t banks)
{
	size_t n = 0;

	out[0] = '\0';
	for (int b = 0; b < 64; b++) {
		int first = b;
		if (!(banks >> b & 1))
			continue;
		while (b < 63 && banks >> (b + 1) & 1)
			b++;
		n += (size_t)snprintf(out + n, 200 - n, "%s%d", n ? " " : "", first + 1);
		if (b > first)
			n += (size_t)snprintf(out + n, 200 - n, "%s%d",
					      b > first + 1 ? "-" : " ", b + 1);
	}
	return out;
}

/* What a rehearsal over the survey heard with the set. */
static void foretold(FILE *to, const struct bankset *s)
{
	char line[400], urgent[80] = "";

	if (s->overs == 0)
		return;
	if (s->urgent >= 0)
		snprintf(urgent, sizeof urgent, ", %.0f %% of fire and ambulance", 100 * s->urgent);
	snprintf(
		line, sizeof line,
		"rehearsed: about %.0f %% of overs heard%s, %.1f s late on the average; "
		"%.0f %% of exchanges met; it stands still %.0f %% of the time; by weight %.0f %% of what is wanted, and "
		"no receiver passes %.0f %%",
		100 * s->heard, urgent, s->late_s, 100 * s->met, 100 * s->held, 100 * s->worth,
		100 * s->bound);
	sheet_wrap(to, "      ", 6, line);
}

char *sheet_attenuator(const struct plan *p, const struct census *c, char out[1000])
{
	const struct attenuator *a = &p->attenuator;
	char mhz[FREQ_TEXT];
	int n = snprintf(out, 1000, "%s", a->text);

	for (int i = 0; a->is == ADVICE_OFF_LOSES && i < a->losts && i < LOST_TOLD; i++) {
		const struct memory *m = &p->memory[a->lost[i]];
		n += snprintf(out + n, 1000 - (size_t)n, "%s %s (now %.0f dB)", i ? "," : ":",
			      freq_format_mhz(mhz, m->frequency), c->channel[m->channel].level_db);
	}
	if (a->is == ADVICE_OFF_LOSES && a->losts > LOST_TOLD)
		snprintf(out + n, 1000 - (size_t)n, " and %d more", a->losts - LOST_TOLD);
	return out;
}

void sheet_sets(FILE *to, const struct plan *p, const struct census *c)
{
	char first[120], banks[200], line[1000];

	fprintf(to, "WHICH BANKS TO SWITCH ON\n");
	for (int i = 0; i < p->sets; i++) {
		const struct bankset *s = &p->set[i];
		snprintf(first, sizeof first, "  %-27s %3d scanned, once round in %5.2f s: bank ",
			 s->name, s->scanned, s->cycle_s);
		sheet_wrap(to, first, 68, sheet_banks(banks, s->banks));
		foretold(to, s);
		if (i == 0 && p->everyday[0])
			sheet_wrap(to, "      ", 6, p->everyday);
	}
	if (p->sets == 0)
		fprintf(to, "  none: no memory is scanned\n");
	sheet_wrap(to, "  Priority: ", 12, p->priority);
	sheet_wrap(to, "  Attenuator: ", 14, sheet_attenuator(p, c, line));
}
