#include "tools/export.h"

#include <math.h>

#include "tools/plan/words.h"

static void place(struct teller *t, const char *name, const struct memory_place *p,
		  const char *meaning)
{
	tell_open(t, name, p->bank > 0, meaning);
	tell_whole(t, "bank", p->bank, "bank, from 1");
	tell_whole(t, "slot", p->slot, "memory in it, from 1");
	tell_close(t);
}

static void memory(struct teller *t, const struct memory *m, const struct census *c)
{
	char typed[FREQ_TEXT];

	tell_whole(t, "bank", m->bank, "from 1");
	tell_whole(t, "slot", m->slot, "memory in the bank, from 1");
	tell_text(t, "type_mhz", words_typed(m->landing.landed, typed), "what to type");
	tell_freq(t, "frequency_hz", m->frequency, "true frequency");
	tell_freq(t, "landed_hz", m->landing.landed, "where the receiver lands");
	tell_real(t, "error_hz", freq_to_hz(m->landing.error), 0, "of that");
	tell_freq(t, "step_hz", m->landing.step, "step to set");
	tell_text(t, "mode", mode_name(m->mode), "AM, NFM, WFM");
	tell_real(t, "delay_s", 1e-6 * (double)m->delay_us, 1,
		  "scanning goes on so long after an over");
	tell_yes(t, "locked", m->locked, "stored, not scanned");
	tell_yes(t, "priority", m->priority, "looked at in between");
	tell_text(t, "name", m->name, "with \"probably\" when it is a guess");
	tell_text(t, "service", m->service, "of the band plan, or as the interests say");
	tell_text(t, "certainty", certainty_name(m->certainty), "weak, likely, sure");
	tell_text(t, "evidence", m->evidence, "what was heard");
	tell_text(t, "reason", m->reason, "why it is here");
	tell_text(t, "delay_reason", m->delay_why, "why it has that delay");
	tell_text(t, "pair", m->pair, "its other frequency");
	tell_text(t, "listed", m->listed, "what your list of licences has there");
	tell_text(t, "guess", m->guess, "what the name is guessed from, beside the band plan");
	tell_text(t, "hazard", m->hazard, "what the receiver itself may add there");
	place(t, "same_as", &m->same_as, "a second seat of that memory");
	tell_text(t, "heard", noted_name(m->noted),
		  "your tick, to come back with --memories: yes, noise, locked");
	tell_yes(t, "pinned", m->fixed, "its slot is never touched");
	tell_text(t, "band", m->channel >= 0 ? c->band[c->channel[m->channel].band].id : "",
		  "id of its band; not known when it was never heard");
}

static void search(struct teller *t, const struct search *s)
{
	tell_freq(t, "low_hz", s->low, "lower limit to type");
	tell_freq(t, "high_hz", s->high, "upper limit to type");
	tell_freq(t, "step_hz", s->step, "step to set");
	tell_text(t, "mode", mode_name(s->mode), "AM, NFM, WFM");
	tell_real(t, "sweep_s", s->sweep_s, 2, "once through it when nothing is heard");
	tell_text(t, "reason", s->reason, "what may be found");
	tell_real(t, "worth", s->worth, 3,
		  "what it was chosen for: channels found in an evening, by weight, less its time");
	tell_real(t, "expected", s->expected, 2,
		  "channels without a memory that will talk in three hours");
	tell_whole(t, "expected_low", s->expected_low, "not fewer of them (95 %)");
	tell_whole(t, "expected_high", s->expected_high, "nor more");
	tell_whole(t, "light", s->lights, "channels in it heard too little to keep");
	tell_whole(t, "stops", s->stops, "other channels heard in it: a search stops there, too");
}

static void set(struct teller *t, const struct bankset *s)
{
	bool played = s->overs > 0;

	tell_text(t, "name", s->name, "what these banks are for");
	tell_bits(t, "banks", s->banks, "switched on together");
	tell_whole(t, "scanned", s->scanned, "memories not locked");
	tell_real(t, "cycle_s", s->cycle_s, 2, "once round when nothing is heard");
	tell_whole(t, "overs_rehearsed", s->overs,
		   "overs in the rehearsal; 0: nothing to rehearse with");
	tell_real(t, "overs_heard", played ? s->heard : NAN, 3,
		  "share of them that would be heard");
	tell_real(t, "urgent_heard", played && s->urgent >= 0 ? s->urgent : NAN, 3,
		  "the same of what must not wait");
	tell_real(t, "exchanges_met", played ? s->met : NAN, 3,
		  "share of exchanges with any over heard");
	tell_real(t, "wanted_heard", played ? s->worth : NAN, 3,
		  "of what is wanted, by weight, the share of time heard");
	tell_real(t, "wanted_bound", played ? s->bound : NAN, 3,
		  "no receiver that hears one at a time passes that");
	tell_real(t, "held", played ? s->held : NAN, 3, "share of the time it stands still");
	tell_real(t, "late_s", played ? s->late_s : NAN, 2, "it comes so late to an over, mean");
}

static void left(struct teller *t, const struct left *l, const struct census *c, bool any)
{
	static const struct channel nothing;
	const struct channel *ch = any ? &c->channel[l->channel] : &nothing;

	tell_text(t, "band", any ? c->band[ch->band].id : "", "id of its band");
	tell_whole(t, "channel", ch->channel, "its number in the band's raster, from 0");
	tell_freq(t, "frequency_hz", ch->centre, "its centre");
	tell_whole(t, "overs", ch->overs, "overs met");
	tell_text(t, "reason", l->reason, "why it is left out");
	tell_text(t, "listed", l->listed, "what your list of licences has there");
}

static void change(struct teller *t, const struct slot_change *c, const struct plan *p)
{
	static const struct memory nothing = { .channel = -1 };
	const struct memory *m =
		c->memory >= 0 && p->memories > 0 ? &p->memory[c->memory] : &nothing;
	char typed[FREQ_TEXT], was[FREQ_TEXT];
	bool comes = m->bank > 0;

	tell_text(t, "change", slot_step_name(c->is),
		  "keep, adjust (a key beside the frequency), replace, new, clear");
	tell_whole(t, "bank", c->bank, "from 1");
	tell_whole(t, "slot", c->slot, "memory in the bank, from 1");
	tell_text(t, "was_mhz", c->was_landed.thirds ? words_typed(c->was_landed, was) : "",
		  "what is in it now");
	tell_text(t, "was_mode", c->was_landed.thirds ? mode_name(c->was_mode) : "",
		  "AM, NFM, WFM");
	tell_text(t, "was_name", c->was, "as your list calls it");
	tell_text(t, "type_mhz", comes ? words_typed(m->landing.landed, typed) : "",
		  "what comes there");
	tell_text(t, "mode", comes ? mode_name(m->mode) : "", "AM, NFM, WFM");
	tell_real(t, "delay_s", comes ? 1e-6 * (double)m->delay_us : NAN, 1,
		  "scanning goes on so long after an over");
	tell_text(t, "locked", !comes ? "" : m->locked ? "yes" : "no", "stored, not scanned");
	tell_text(t, "name", comes ? m->name : "", "with \"probably\" when it is a guess");
	tell_whole(t, "keys", c->keys, "presses, after the change before");
	tell_text(t, "reason", c->reason, "why");
}

/* What ticks told of the set. */
static void margin(struct teller *t, const struct margin *m)
{
	tell_open(t, "set_margin", m->told,
		  "how strong a channel must be to be heard on your set, by your ticks");
	tell_whole(t, "heard", m->heard, "ticks of channels heard well");
	tell_whole(t, "noise", m->noise, "and of those that were only noise");
	tell_real(t, "level_db", m->db, 1,
		  "over the noise in the survey: half of the channels this strong are heard");
	tell_real(t, "level_low_db", m->likely.low, 1, "not below (95 %)");
	tell_real(t, "level_high_db", m->likely.high, 1, "nor above");
	tell_close(t);
}

static void attenuator(struct teller *t, const struct attenuator *a)
{
	tell_open(t, "attenuator", true, "whether to switch it on");
	tell_text(t, "advice", advice_name(a->is),
		  "none (there is no such), off, \"off: would lose some\", on");
	tell_text(t, "reason", a->text, "why");
	tell_whole(t, "ghosts", a->ghosts, "channels that strong ones mixed in the dongle");
	tell_whole(t, "overloaded", a->overloaded, "bands with looks spoilt by overload");
	tell_whole(t, "rising", a->rising,
		   "bands whose noise is 3 dB higher in hours with overload");
	tell_real(t, "rise_db", a->rising ? a->rise_db : NAN, 1, "most of that");
	tell_whole(t, "would_lose", a->losts,
		   "scanned memories below 10 dB over the noise with it on");
	tell_close(t);
}

static void unknown_band(struct teller *t, const struct unknown_band *u, const char *id)
{
	tell_text(t, "band", id, "id of the band");
	tell_whole(t, "hours", u->hours, "of the week's 168 that were looked at, local time");
	tell_yes(t, "weekday", u->days[DAY_WEEK], "looked at on one");
	tell_yes(t, "saturday", u->days[DAY_SATURDAY], "looked at on one");
	tell_yes(t, "sunday", u->days[DAY_SUNDAY], "looked at on one");
	tell_yes(t, "unknown_by_day", u->by_day,
		 "a service of the day, and no working hour was looked at");
	tell_real(t, "known", u->known, 3,
		  "share of its service's week, by habit, in hours looked at");
	tell_yes(t, "none_heard", u->nothing, "no station was heard");
	tell_yes(t, "deaf", u->deaf,
		 "nor is the noise higher than with the antenna off: not quiet, but not known");
	tell_real(t, "none_overs_h", u->nothing ? u->none_h : NAN, 3,
		  "then: fewer overs of 5 s an hour on any channel of it (95 %)");
}

static void next_hours(struct teller *t, const struct next_hours *n)
{
	char words[NEXT_TEXT];

	tell_text(t, "day", day_kind_name(n->on), "a weekday, a Saturday, a Sunday");
	tell_whole(t, "from_hour", n->from, "local time; four hours from then");
	tell_real(t, "tells", n->tells, 3, "share of what is not known, by weight and habit");
	tell_text(t, "words", unknown_next_words(n, words), "for people");
}

static void note(struct teller *t, const struct note *n, const struct census *c, bool any)
{
	tell_text(t, "band", any ? c->band[n->band].id : "", "id of the band");
	tell_text(t, "text", n->text, "what is wrong with its survey");
}

static void lists(struct teller *t, const struct plan *p, const struct census *c)
{
	static const struct memory no_memory = { .channel = -1 };
	static const struct search no_search;
	static const struct bankset no_set;
	static const struct left no_left;
	static const struct note no_note;
	static const struct unknown_band no_band;
	static const struct next_hours no_hours;
	static const struct slot_change no_change = { .memory = -1 };

	tell_list(t, "memories", "by bank and slot");
	for (int i = 0; tell_more(t, i, p->memories); i++)
		memory(t, i < p->memories ? &p->memory[i] : &no_memory, c);
	tell_list(t, "search_ranges", "most wanted first");
	for (int i = 0; tell_more(t, i, p->searches); i++)
		search(t, i < p->searches ? &p->search[i] : &no_search);
	tell_list(t, "sets", "banks to switch on together");
	for (int i = 0; tell_more(t, i, p->sets); i++)
		set(t, i < p->sets ? &p->set[i] : &no_set);
	tell_list(t, "left_out", "every channel heard that is in no memory");
	for (int i = 0; tell_more(t, i, p->lefts); i++)
		left(t, i < p->lefts ? &p->left[i] : &no_left, c, i < p->lefts);
	tell_list(t, "changes",
		  "of a set in use (--memories): by bank, most wanted first, clearings last");
	for (int i = 0; tell_more(t, i, p->changes); i++)
		change(t, i < p->changes ? &p->change[i] : &no_change, p);
	tell_list(t, "unknown", "what is not known of each band");
	for (int i = 0; tell_more(t, i, p->unknown.bands); i++)
		unknown_band(t, i < p->unknown.bands ? &p->unknown.band[i] : &no_band,
			     i < p->unknown.bands ? c->band[i].id : "");
	tell_list(t, "survey_next", "hours that would tell most, the best first");
	for (int i = 0; tell_more(t, i, p->unknown.blocks); i++)
		next_hours(t, i < p->unknown.blocks ? &p->unknown.next[i] : &no_hours);
	tell_list(t, "notes", "bands surveyed on a wrong raster");
	for (int i = 0; tell_more(t, i, p->notes); i++)
		note(t, i < p->notes ? &p->note[i] : &no_note, c, i < p->notes);
}

void tell_plan(struct teller *t, const void *planned)
{
	const struct planned *of = planned;

	tell_open(t, NULL, true, "");
	tell_text(t, "receiver", of->plan->receiver, "name of its profile");
	tell_real(t, "squelch_db", 0.1 * of->census->squelch_ddb, 1,
		  "dB over the noise that open the set");
	tell_time(t, "from", of->census->start_us, "when the survey began");
	tell_time(t, "until", of->census->end_us, "when it ended");
	tell_text(t, "priority", of->plan->priority, "which memory has it and why, or why none");
	tell_text(t, "everyday", of->plan->everyday, "why bank 1 has what it has");
	tell_text(t, "zone", of->census->zone, "of the times of day in texts; all others are UTC");
	tell_real(t, "unknown_share", of->plan->unknown.share, 3,
		  "of what is wanted, by weight and habit, that is not known");
	attenuator(t, &of->plan->attenuator);
	margin(t, &of->plan->margin);
	lists(t, of->plan, of->census);
	tell_close(t);
}
