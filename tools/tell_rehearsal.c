#include "tools/export.h"

#include <math.h>

/* Shares are not known where there is nothing to share. */
static double share(double part, double of)
{
	return of > 0 ? part / of : NAN;
}

static void part(struct teller *t, const char *name, const struct part *p, const struct review *v,
		 bool known, const char *meaning)
{
	int draws = v->draws ? v->draws : 1;
	struct interval met = known ? review_met(p, draws) : (struct interval){ 0 };

	tell_open(t, name, known, meaning);
	tell_real(t, "overs", (double)p->overs / draws, 1, "on the air, in one play");
	tell_real(t, "overs_heard", share(p->heard, p->overs), 3, "share of these that is heard");
	tell_real(t, "exchanges", (double)p->exchanges / draws, 1, "on the air, in one play");
	tell_real(t, "exchanges_met", share(p->met, p->exchanges), 3, "share with any over heard");
	tell_real(t, "exchanges_met_low", met.low, 3, "not below (95 %)");
	tell_real(t, "exchanges_met_high", met.high, 3, "nor above");
	tell_real(t, "late_s", share(p->late_s, p->heard), 2, "it comes so late to an over, mean");
	tell_real(t, "held", share(p->held_s, v->told.seconds), 3,
		  "share of the time it stands there");
	tell_real(t, "cut", (double)p->cut / draws, 1,
		  "overs left for the priority channel, in one play");
	tell_close(t);
}

static void seat(struct teller *t, const struct rehearsed *r, const struct review *v,
		 const struct memory *m, bool any)
{
	static const struct part nothing;
	bool played = any && m->channel >= 0 && !m->locked && v->line[m->channel].overs > 0;

	tell_whole(t, "bank", m->bank, "from 1");
	tell_whole(t, "slot", m->slot, "memory in the bank, from 1");
	tell_freq(t, "landed_hz", m->landing.landed, "where the receiver lands");
	tell_text(t, "mode", mode_name(m->mode), "AM, NFM, WFM");
	tell_yes(t, "locked", m->locked, "not scanned");
	tell_yes(t, "priority", m->priority, "looked at in between");
	tell_text(t, "name", m->name, "as the list calls it, or with \"probably\" a guess");
	tell_text(t, "service", m->service, "of the band plan, or as the interests say");
	tell_real(t, "weight", m->weight, 1, "how much that is wanted, 0 to 10");
	tell_text(t, "heard", noted_name(m->noted), "the listener's note: yes, noise, locked");
	tell_yes(t, "heard_here", m->channel >= 0, "the survey heard something there");
	tell_whole(t, "looks", any ? typed_looks(m, r->census, r->receiver) : 0,
		   "of the survey; 0: not looked at");
	tell_open(t, "same_as", m->same_as.bank > 0, "another memory on the same channel");
	tell_whole(t, "bank", m->same_as.bank, "from 1");
	tell_whole(t, "slot", m->same_as.slot, "from 1");
	tell_close(t);
	part(t, "rehearsed", played ? &v->line[m->channel] : &nothing, v, played,
	     "what became of it");
}

static void burden(struct teller *t, const struct rehearsed *r, const struct burden *b)
{
	bool known = r->reviews > 0 && b->channel >= 0;

	tell_open(t, "burden", known, "the channel whose lockout gives the others most");
	tell_freq(t, "frequency_hz",
		  known ? r->census->channel[b->channel].centre : (struct freq){ 0 }, "its centre");
	tell_real(t, "held", b->held, 3, "share of the time that it takes");
	tell_real(t, "others_gain", b->gain, 3,
		  "share of the others' overs more that is heard without it");
	tell_real(t, "others_gain_low", b->low, 3, "in the poorest play");
	tell_real(t, "others_gain_high", b->high, 3, "in the best play");
	tell_real(t, "overs_gained", b->gained, 1, "of the others, in one play");
	tell_real(t, "overs_lost", b->lost, 1, "of its own, in one play");
	tell_close(t);
}

static void review(struct teller *t, const struct rehearsed *r, const struct review *v)
{
	static const struct memory no_memory = { .channel = -1 };
	const struct plan *p = r->plan;
	bool played = v->told.all.overs > 0;
	int n = 0, at = -1;

	tell_bits(t, "banks", v->banks, "switched on together");
	tell_whole(t, "scanned", v->scanned, "memories not locked");
	tell_real(t, "cycle_s", v->cycle_s, 2, "once round when nothing is heard");
	part(t, "rehearsed", &v->told.all, v, played, "what is heard of all");
	part(t, "urgent", &v->told.urgent, v, v->told.urgent.overs > 0,
	     "of that fire and ambulance");
	tell_real(t, "by_weight", played ? v->told.value : NAN, 3,
		  "share of overs heard, the mean of memories by their weight");
	tell_real(t, "overs_heard_low", played ? v->low : NAN, 3, "in the poorest play");
	tell_real(t, "overs_heard_high", played ? v->high : NAN, 3, "in the best play");
	burden(t, r, &v->burden);
	for (int i = 0; i < p->memories; i++)
		n += (int)(v->banks >> (p->memory[i].bank - 1) & 1);
	tell_list(t, "memories", "in these banks");
	for (int k = 0; tell_more(t, k, n); k++) {
		do
			at++;
		while (k < n && !(v->banks >> (p->memory[at].bank - 1) & 1));
		seat(t, r, v, k < n ? &p->memory[at] : &no_memory, k < n);
	}
}

void tell_rehearsal(struct teller *t, const void *rehearsed)
{
	static const struct review nothing = { .burden = { .channel = -1 } };
	const struct rehearsed *r = rehearsed;
	int noted[NOTED_COUNT] = { 0 };

	for (int i = 0; i < r->typed->n; i++)
		noted[r->typed->at[i].noted]++;
	tell_open(t, NULL, true, "");
	tell_text(t, "receiver", r->plan->receiver, "name of its profile");
	tell_real(t, "squelch_db", 0.1 * r->census->squelch_ddb, 1,
		  "dB over the noise that open the set");
	tell_time(t, "from", r->census->start_us, "when the survey began");
	tell_time(t, "until", r->census->end_us, "when it ended");
	tell_open(t, "noted", true, "how many memories the listener noted as");
	for (enum noted n = NOTED_YES; n < NOTED_COUNT; n++)
		tell_whole(t, noted_name(n), noted[n], "so many");
	tell_close(t);
	tell_list(t, "sets", "banks rehearsed together");
	for (int i = 0; tell_more(t, i, r->reviews); i++)
		review(t, r, i < r->reviews ? &r->review[i] : &nothing);
	tell_close(t);
}
