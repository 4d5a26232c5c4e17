#include "tests/test.h"

#include "tests/points_inside.h"

#include <stdlib.h>

/* The points that look at a plan as a whole. */

RULE(fire_first)
{
	static const char *const must[] = { "Fire Dispatch", "EMS Dispatch" };
	double last_fire = 0, first_other = INFINITY;
	json_t *m;
	size_t i;

	for (size_t k = 0; k < sizeof must / sizeof must[0]; k++) {
		json_t *found = memory_at(e->plan, truth_named(truth_of(e), must[k])->hz);
		if (!found || number_of(found, "bank") != 1 || !scanned(found))
			return SAY("%s is not in bank 1", must[k]);
	}
	MEMORIES(e->plan, i, m) {
		bool fire = strcmp(text_of(m, "service"), "fire") == 0;
		if (urgent(m) && scanned(m) && !second_seat(m) && number_of(m, "bank") != 1)
			return SAY("%s can't wait, and is not in bank 1", where(m));
		if (number_of(m, "bank") != 1)
			continue;
		if (fire)
			last_fire = number_of(m, "slot");
		else
			first_other = fmin(first_other, number_of(m, "slot"));
	}
	return last_fire < first_other ? true : SAY("fire in slot %g after another", last_fire);
}

RULE(room)
{
	const struct receiver *r = receiver_of(e);

	for (int bank = 1; bank <= 99; bank++) {
		int used = 0, live = 0;
		json_t *m;
		size_t i;
		MEMORIES(e->plan, i, m) {
			used += number_of(m, "bank") == bank;
			live += number_of(m, "bank") == bank && scanned(m);
			if (number_of(m, "slot") > r->memories || number_of(m, "bank") > r->banks)
				return SAY("%s does not exist", where(m));
		}
		/* 25 scanned and 4 left free are the trade's figures; a profile may be stricter. */
		if (live > 25 || live > r->live_per_bank || r->memories - used < 4)
			return SAY("bank %d scans %d and has %d free", bank, live, r->memories - used);
	}
	return true;
}

static bool in_set(const json_t *set, const json_t *m)
{
	json_t *bank;
	size_t i;

	json_array_foreach(json_object_get(set, "banks"), i, bank)
		if (json_number_value(bank) == number_of(m, "bank"))
			return scanned(m);
	return false;
}

RULE(promises)
{
	json_t *set, *m;
	size_t i, k;

	json_array_foreach(json_object_get(e->plan, "sets"), i, set) {
		const char *name = text_of(set, "name");
		int n = 0;
		MEMORIES(e->plan, k, m)
			n += in_set(set, m);
		if (n == 0 || number_of(set, "scanned") != n ||
		    fabs(number_of(set, "cycle_s") - n / receiver_of(e)->scan_rate) > 0.011)
			return SAY("%s: %d scanned, cycle %g s", name, n, number_of(set, "cycle_s"));
		struct replayed got = proof_listen(e->of, e->run, e->receiver, e->plan, set);
		double said = 100 * number_of(set, "overs_heard"), heard = 100.0 * got.heard / fmax(got.overs, 1);
		if (!(fabs(said - heard) <= replay_slack(&got)))
			return SAY("%s: %.1f %% of overs are promised, %.1f %% are heard", name, said, heard);
	}
	return json_array_size(json_object_get(e->plan, "sets")) > 0 ? true : SAY("no sets");
}

/* Share of its busiest hour that it keeps a receiver which stays for delay_s after each over. */
static double hold_share(const struct truth *t, const struct sender_told *s, double delay_s)
{
	double most = 0;

	for (double from = 0; from < t->seconds; from += 3600) {
		double held = 0, until = from;
		for (int i = 0; i < s->n; i++) {
			double on = fmax(s->sent[i].on_s, until), off = fmin(s->sent[i].off_s + delay_s, from + 3600);
			if (s->sent[i].snr_db < SQUELCH_DB || off <= on)
				continue;
			held += off - on;
			until = off;
		}
		most = fmax(most, held / 3600);
	}
	return most;
}

/* 10 % of its busiest hour is too much beside fire (common practice); the survey measures it from
 * what its looks met of one hour, which may be off by a half. */
#define CHATTER 0.15

RULE(no_chatter)
{
	json_t *set, *m;
	size_t i, k;

	json_array_foreach(json_object_get(e->plan, "sets"), i, set) {
		bool fire = false;
		MEMORIES(e->plan, k, m)
			fire |= in_set(set, m) && urgent(m);
		MEMORIES(e->plan, k, m) {
			const struct sender_told *s = truth_at(truth_of(e), hz_of(m, "frequency_hz"), 1);
			if (!fire || !in_set(set, m) || urgent(m) || !s)
				continue;
			double held = hold_share(truth_of(e), s, number_of(m, "delay_s"));
			if (held > CHATTER)
				return SAY("%s: %s, %.0f %% of its busiest hour, is beside fire", text_of(set, "name"),
					   s->name, 100 * held);
		}
	}
	return true;
}

/* Bands whose users work by day: that of the school bus and of the concrete plant. */
RULE(unknown)
{
	static const char *const of_day[] = { "School Bus", "Concrete Plant" };
	bool day = strcmp(proof_runs[e->run].name, "day") == 0;
	const char *hours = day ? "20-08 h" : "08-20 h", *by_day = strstr(e->sheet, "unknown by day");

	if (!strstr(e->sheet, "Not looked at is not quiet") || strstr(e->sheet, "inactive"))
		return SAY("the sheet does not say that what was not looked at is not quiet");
	if (!strstr(e->sheet, hours))
		return SAY("the sheet does not say that %s were not looked at", hours);
	if (day == (by_day != NULL))
		return SAY("the sheet %s of services of the day", day ? "complains" : "says nothing");
	for (size_t i = 0; !day && i < sizeof of_day / sizeof of_day[0]; i++) {
		const struct sender_told *s = truth_named(truth_of(e), of_day[i]);
		const json_t *ch = channel_at(e, s->hz);
		if (!ch && s->n > 20)
			return SAY("%s was on %d times and is in no list", s->name, s->n);
	}
	return true;
}

/* What is in a slot by a plan; NULL: nothing. */
static const json_t *slot_of(const json_t *list, double bank, double slot)
{
	json_t *m;
	size_t i;

	json_array_foreach(list, i, m)
		if (number_of(m, "bank") == bank && number_of(m, "slot") == slot)
			return m;
	return NULL;
}

/* What a slot's change must be, by what was in it and what is to be. */
static const char *change_of(double was_hz, double is_hz)
{
	return was_hz == 0 ? "new" : is_hz == 0 ? "clear" : was_hz == is_hz ? "keep" : "replace";
}

RULE(pins)
{
	json_t *changes = json_object_get(e->old, "changes"), *memories = json_object_get(e->old, "memories"), *c;
	size_t i, slots = json_array_size(memories);

	for (int k = 0; k < PROOF_OLD; k++) {
		const json_t *m = slot_of(memories, proof_old[k].bank, proof_old[k].slot);
		if (proof_old[k].pinned && (!m || hz_of(m, "landed_hz") != proof_old[k].hz))
			return SAY("%.4f MHz is pinned, and not in its slot", proof_old[k].hz / 1e6);
		slots += m == NULL;
	}
	if (json_array_size(changes) != slots)
		return SAY("%zu changes for %zu slots", json_array_size(changes), slots);
	json_array_foreach(changes, i, c) {
		double bank = number_of(c, "bank"), slot = number_of(c, "slot"), was = 0;
		const json_t *m = slot_of(memories, bank, slot);
		for (int k = 0; k < PROOF_OLD; k++)
			if (proof_old[k].bank == bank && proof_old[k].slot == slot)
				was = proof_old[k].hz;
		const char *want = change_of(was, m ? hz_of(m, "landed_hz") : 0);
		if (strcmp(text_of(c, "change"), want) != 0 || slot_of(changes, bank, slot) != c)
			return SAY("bank %g slot %g: \"%s\", want \"%s\"", bank, slot, text_of(c, "change"), want);
	}
	return true;
}

RULE(ranges)
{
	const struct truth *t = truth_of(e);
	const struct receiver *r = receiver_of(e);
	json_t *ranges = json_object_get(e->plan, "search_ranges"), *s;
	size_t i;

	if (json_array_size(ranges) > 10 || (int)json_array_size(ranges) > r->search_ranges)
		return SAY("%zu search ranges", json_array_size(ranges));
	json_array_foreach(ranges, i, s) {
		double low = hz_of(s, "low_hz"), high = hz_of(s, "high_hz"), step = hz_of(s, "step_hz");
		double from = (low - freq_to_hz(r->landing_base)) / step, steps = (high - low) / step;
		if (high <= low || fabs(from - round(from)) > 1e-4 || fabs(steps - round(steps)) > 1e-4)
			return SAY("range %zu is not on its step", i + 1);
		double sweep = (steps + 1) / r->scan_rate;
		if (fabs(number_of(s, "sweep_s") - sweep) > 0.011 || sweep > 15.1)
			return SAY("range %zu: %.1f s, told as %g", i + 1, sweep, number_of(s, "sweep_s"));
		for (int k = 0; k < t->senders; k++)
			if (t->of[k].hz > low - 5000 && t->of[k].hz < high + 5000 &&
			    strcmp(t->of[k].role, "noise") != 0 &&
			    truth_air_s(&t->of[k], SQUELCH_DB, 0, t->seconds) > 0.5 * t->seconds)
				return SAY("range %zu sticks at %s", i + 1, t->of[k].name);
	}
	return true;
}

#define LOOKS_SURE 25           /* busy looks that nothing on the air can have without being listed */

/* The census's channels, each once; and whoever was on so much that many looks must have met him. */
RULE(one_list)
{
	const struct truth *t = truth_of(e);
	double looks = 0;
	json_t *ch, *o;
	size_t i, k;

	json_array_foreach(e->channels, i, ch) {
		int n = 0;
		looks = fmax(looks, number_of(ch, "looks"));
		MEMORIES(e->plan, k, o)
			n += !second_seat(o) && json_equal(json_object_get(o, "frequency_hz"),
							   json_object_get(ch, "frequency_hz")) &&
			     strcmp(text_of(o, "band"), text_of(ch, "band")) == 0;
		json_array_foreach(json_object_get(e->plan, "left_out"), k, o)
			n += text_of(o, "reason")[0] && strcmp(text_of(o, "band"), text_of(ch, "band")) == 0 &&
			     number_of(o, "channel") == number_of(ch, "channel");
		if (n != 1)
			return SAY("%s channel %g is in %d lists", text_of(ch, "band"), number_of(ch, "channel"), n);
	}
	for (int s = 0; s < t->senders; s++) {
		double met = looks * truth_air_s(&t->of[s], 10, 1300, t->seconds) / t->seconds;
		if (strcmp(t->of[s].role, "emitter") == 0 && met > LOOKS_SURE && !channel_at(e, t->of[s].hz))
			return SAY("%s: %.0f looks met it, and it is not in the census", t->of[s].name, met);
	}
	return true;
}

RULE(stable)
{
	json_t *m, *o;
	size_t i, k;

	if (!json_equal(e->plan, e->again))
		return SAY("the same survey gave two plans");
	if (json_array_size(json_object_get(e->plan, "memories")) !=
	    json_array_size(json_object_get(e->later, "memories")))
		return SAY("a quiet night more, and there are %zu memories instead of %zu",
			   json_array_size(json_object_get(e->later, "memories")),
			   json_array_size(json_object_get(e->plan, "memories")));
	MEMORIES(e->plan, i, m) {
		bool stays = false;
		MEMORIES(e->later, k, o)
			stays |= strcmp(where(m), where(o)) == 0 && scanned(m) == scanned(o);
		if (!stays)
			return SAY("a quiet night more moves %s", where(m));
	}
	return true;
}

RULE(gaps)
{
	if (e->dark == 0)
		return SAY("there is no time in which nobody listened");
	if (e->dark_looked > 0)
		return SAY("%d of %d channels' minutes count as looked at", e->dark_looked, e->dark);
	return true;
}

RULE(threshold)
{
	json_t *m, *o;
	size_t i, k;

	MEMORIES(e->louder, i, m) {
		bool there = false;
		MEMORIES(e->plan, k, o)
			there |= hz_of(m, "landed_hz") == hz_of(o, "landed_hz") && (!scanned(m) || scanned(o));
		/* Room that others left may go to who had none. */
		if (!there && strncmp(left_for(e, hz_of(m, "frequency_hz")), "no room", 7) != 0)
			return SAY("6 dB more squelch brings %s", where(m));
	}
	return true;
}
