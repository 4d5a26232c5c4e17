#include "tools/plan/attenuator.h"

#include "tools/plan/plan.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *advice_name(enum advice a)
{
	static const char *const names[ADVICES] = {
		[ADVICE_NO_SUCH] = "none",
		[ADVICE_OFF] = "off",
		[ADVICE_OFF_LOSES] = "off: would lose some",
		[ADVICE_ON] = "on",
	};

	return names[a];
}

/* Mixed from stronger ones: by the rules, or put to the proof while surveying. */
static bool mixed(const struct channel *ch, const struct suspect *s)
{
	return s->is == SUSPECT_GHOST ||
	       (s->is == SUSPECT_ARTEFACT && strcmp(ch->cause, "product") == 0);
}

static void measure(const struct census *c, const struct suspect *s, struct attenuator *out)
{
	out->ghost = -1;
	for (int i = 0; i < c->channels; i++) {
		if (!mixed(&c->channel[i], &s[i]))
			continue;
		out->ghosts++;
		if (out->ghost < 0 || c->channel[i].level_db > c->channel[out->ghost].level_db)
			out->ghost = i;
	}
	for (int b = 0; b < c->bands; b++) {
		const struct looked *l = &c->looked[b];
		out->overloaded += l->clipped > 0;
		if (l->rise_db < RISE_DB)
			continue;
		out->rising++;
		out->rise_db = fmax(out->rise_db, l->rise_db);
	}
}

/* Weakest first, each once. */
static int lose(const struct census *c, const struct receiver *r, const struct plan *p,
		struct attenuator *out)
{
	out->lost = calloc((size_t)p->memories + 1, sizeof *out->lost);
	if (!out->lost)
		return -1;
	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		if (m->locked || m->channel < 0 || m->same_as.bank)
			continue;
		double level = c->channel[m->channel].level_db;
		int at = out->losts;
		out->scanned++;
		if (level - r->attenuator_db >= KEEPS_DB)
			continue;
		while (at > 0 &&
		       c->channel[p->memory[out->lost[at - 1]].channel].level_db > level) {
			out->lost[at] = out->lost[at - 1];
			at--;
		}
		out->lost[at] = i;
		out->losts++;
	}
	return 0;
}

/* "2 ghosts that strong stations mix (the strongest 154.310 MHz)". */
static void measured_words(const struct census *c, const struct attenuator *a, char *out,
			   size_t size)
{
	char mhz[FREQ_TEXT], rise[80] = "", ghosts[120] = "";

	if (a->ghosts > 0)
		snprintf(ghosts, sizeof ghosts,
			 "%d channel%s that strong stations mixed in the dongle, "
			 "the strongest on %s MHz",
			 a->ghosts, a->ghosts == 1 ? "" : "s",
			 freq_format_mhz(mhz, c->channel[a->ghost].centre));
	if (a->rising > 0)
		snprintf(rise, sizeof rise,
			 "%snoise that rises by %.0f dB with overload in %d "
			 "band%s",
			 ghosts[0] ? ", and " : "", a->rise_db, a->rising,
			 a->rising == 1 ? "" : "s");
	snprintf(out, size, "%s%s", ghosts, rise);
}

static void say(const struct census *c, const struct receiver *r, struct attenuator *a)
{
	const char *are = a->ghosts > 1 ? "are" : "is";
	size_t room = sizeof a->text;
	char measured[220];

	measured_words(c, a, measured, sizeof measured);
	switch (a->is) {
	case ADVICE_NO_SUCH:
		snprintf(a->text, room, "none: this receiver has no attenuator");
		break;
	case ADVICE_OFF:
		snprintf(
			a->text, room, "off: no channel was mixed from strong ones, and %s",
			a->overloaded ?
				"though the dongle was overloaded at times, the noise did not rise" :
				"the dongle was not overloaded");
		break;
	case ADVICE_OFF_LOSES:
		snprintf(a->text, room,
			 "off: there %s %s, but %.0f dB less would leave %d of %d scanned memories "
			 "below %.0f dB",
			 are, measured, r->attenuator_db, a->losts, a->scanned, KEEPS_DB);
		break;
	default:
		snprintf(a->text, room,
			 "on: there %s %s; %.0f dB less takes %.0f dB from what is mixed, and "
			 "all %d scanned memories stay at %.0f dB or more",
			 are, measured, r->attenuator_db, 3 * r->attenuator_db, a->scanned,
			 KEEPS_DB);
	}
}

int attenuator_advise(const struct census *c, const struct suspect *s, const struct receiver *r,
		      const struct plan *p, struct attenuator *out)
{
	*out = (struct attenuator){ .ghost = -1 };
	measure(c, s, out);
	if (r->attenuator_db > 0 && lose(c, r, p, out) < 0)
		return -1;
	if (r->attenuator_db <= 0)
		out->is = ADVICE_NO_SUCH;
	else if (out->ghosts == 0 && out->rising == 0)
		out->is = ADVICE_OFF;
	else
		out->is = out->losts > 0 ? ADVICE_OFF_LOSES : ADVICE_ON;
	say(c, r, out);
	return 0;
}

void attenuator_free(struct attenuator *a)
{
	free(a->lost);
	*a = (struct attenuator){ 0 };
}
