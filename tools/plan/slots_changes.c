#include "tools/plan/slots.h"

#include "tools/plan/keys.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DELAY_ROUNDED_US 51000  /* lists give tenths of a second */

static const struct memory *now_at(const struct plan *p, int bank, int slot)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].bank == bank && p->memory[i].slot == slot)
			return &p->memory[i];
	return NULL;
}

static bool same_frequency(const struct former *f, const struct memory *was,
			   const struct memory *now)
{
	const struct typed *said = former_typed(f, was);

	return was->landing.landed.thirds == now->landing.landed.thirds &&
	       (was->mode == now->mode || (said && said->mode == MODE_NONE));
}

/* A delay that nobody named is not known to be wrong, and one of a locked memory is none. */
static bool other_delay(const struct former *f, const struct memory *was, const struct memory *now)
{
	const struct typed *said = former_typed(f, was);

	return !now->locked && said && said->delay_s >= 0 &&
	       llabs(was->delay_us - now->delay_us) > DELAY_ROUNDED_US;
}

/* Where its channel is in the plan, when it is: who moved, or has another seat already. */
static bool went(const struct matter *m, const struct plan *p, const struct memory *was, char *out,
		 size_t room)
{
	for (int i = 0; i < p->memories; i++) {
		const struct memory *now = &p->memory[i];
		if (!former_same(was, now) || now->same_as.bank)
			continue;
		const struct memory *before = former_at(m->former, now->bank, now->slot);
		snprintf(out, room,
			 before && former_same(before, now)
			     ? "is in bank %d slot %d, which is enough"
			     : "goes to bank %d slot %d",
			 now->bank, now->slot);
		return true;
	}
	for (int i = 0; i < p->lefts && was->channel >= 0; i++)
		if (p->left[i].channel == was->channel) {
			snprintf(out, room, "%s", p->left[i].reason);
			return true;
		}
	return false;
}

/* Why what is in the slot goes. */
static void why_gone(const struct matter *m, const struct plan *p, const struct memory *was,
		     char *out, size_t room)
{
	int64_t looks = typed_looks(was, m->census, m->receiver);
	struct memory silent;

	if (went(m, p, was, out, room))
		return;
	if (judge_silent(m, was, &silent) < 0)
		snprintf(out, room, "%s", interests_never(m->interests, was->frequency) ?
			 "on your list of frequencies never to keep" :
			 "in a cellular telephone band, which is never proposed");
	else if (looks == 0)
		snprintf(out, room, "its slot is wanted; not looked at, so nothing is known of it");
	else if (former_looked(m->former, was) == FORMER_LOOKED)
		snprintf(out, room,
			 "nothing heard here in %" PRId64 " looks, in every hour of the day",
			 looks);
	else if (was->noted == NOTED_NOISE)
		snprintf(out, room,
			 "you heard only noise, and the survey nothing in %" PRId64 " looks",
			 looks);
	else
		snprintf(out, room,
			 "its slot is wanted; nothing heard in %" PRId64
			 " looks, but not all hours were looked at",
			 looks);
}

/* What to press on a memory whose frequency stays. */
static int adjustments(const struct matter *m, const struct memory *was, const struct memory *now,
		       char *out, size_t room)
{
	const struct keypad *k = &m->receiver->keypad;
	int keys = 0;
	size_t n = 0;

	out[0] = '\0';
	if (was->locked != now->locked) {
		keys += k->lockout;
		n += (size_t)snprintf(out, room, "%s it", now->locked ? "lock" : "unlock");
	}
	if (other_delay(m->former, was, now)) {
		keys += k->delay;
		n += (size_t)snprintf(out + n, room - n, "%sdelay %.1f instead of %.1f s",
				      n ? ", " : "", 1e-6 * (double)now->delay_us,
				      1e-6 * (double)was->delay_us);
	}
	if (was->priority != now->priority) {
		keys += k->priority;
		snprintf(out + n, room - n, "%s%s", n ? ", " : "",
			 now->priority ? "priority" : "priority off");
	}
	return keys;
}

/* All but its keys, which depend on the one before. */
static struct slot_change compare(const struct matter *m, const struct plan *p,
				  const struct memory *was, const struct memory *now)
{
	struct slot_change c = { .memory = now ? (int)(now - p->memory) : -1 };
	char gone[240] = "", press[80];

	c.bank = now ? now->bank : was->bank;
	c.slot = now ? now->slot : was->slot;
	if (was) {
		c.was_landed = was->landing.landed;
		c.was_mode = was->mode;
		snprintf(c.was, sizeof c.was, "%s", was->name);
	}
	if (was && now && same_frequency(m->former, was, now)) {
		c.keys = adjustments(m, was, now, press, sizeof press);
		c.is = press[0] ? SLOT_ADJUST : SLOT_KEEP;
		snprintf(c.reason, sizeof c.reason, "%s%s%s", press, press[0] ? "; " : "",
			 now->reason);
		return c;
	}
	c.is = !was ? SLOT_NEW : now ? SLOT_REPLACE : SLOT_CLEAR;
	if (was && now && former_same(was, now))
		snprintf(gone, sizeof gone,
			 was->landing.landed.thirds == now->landing.landed.thirds
			     ? "same frequency, in another mode"
			     : "same station, typed where it is heard best");
	else if (was)
		why_gone(m, p, was, gone, sizeof gone);
	if (was && now)
		snprintf(c.reason, sizeof c.reason, "was%s%s: %s; now: %s", was->name[0] ? " " : "",
			 was->name, gone, now->reason);
	else
		snprintf(c.reason, sizeof c.reason, "%s", now ? now->reason : gone);
	return c;
}

/* For the order: the plan is looked at beside it. */
struct entry {
	struct slot_change c;
	double             weight;      /* of what comes there, clearings last   */
};

static int by_want(const void *a, const void *b)
{
	const struct entry *x = a, *y = b;

	if (x->c.bank != y->c.bank)
		return x->c.bank - y->c.bank;
	if (x->weight != y->weight)
		return x->weight > y->weight ? -1 : 1;
	return x->c.slot - y->c.slot;
}

/* Presses, going from the change before to this one. */
static void count_keys(const struct matter *m, struct plan *p)
{
	const struct keypad *k = &m->receiver->keypad;
	const struct memory *typed = NULL;
	int bank = 0, slot = 0;

	for (int i = 0; i < p->changes; i++) {
		struct slot_change *c = &p->change[i];
		const struct memory *now = c->memory >= 0 ? &p->memory[c->memory] : NULL;
		const struct memory *was = former_at(m->former, c->bank, c->slot);
		if (c->is == SLOT_KEEP)
			continue;
		if (c->is == SLOT_CLEAR)
			c->keys = k->clear;
		if (c->is == SLOT_NEW || c->is == SLOT_REPLACE) {
			c->keys = keys_entry(k, now, typed);
			if (was && was->locked)         /* it is locked already */
				c->keys += now->locked ? -k->lockout : k->lockout;
			typed = now;
		}
		if (bank != c->bank || slot + 1 != c->slot)
			c->keys += k->slot;
		bank = c->bank;
		slot = c->slot;
	}
}

int slots_changes(const struct matter *m, struct plan *p)
{
	const struct plan *set = m->former ? m->former->set : NULL;
	struct entry *entry = NULL;
	int n = 0, result = -1;

	if (!set)
		return 0;
	entry = calloc((size_t)(p->memories + set->memories) + 1, sizeof *entry);
	p->change = calloc((size_t)(p->memories + set->memories) + 1, sizeof *p->change);
	if (!entry || !p->change)
		goto out;
	for (int i = 0; i < p->memories; i++) {
		const struct memory *now = &p->memory[i];
		entry[n++] = (struct entry){
		    compare(m, p, former_at(m->former, now->bank, now->slot), now), now->weight};
	}
	for (int i = 0; i < set->memories; i++) {
		const struct memory *was = &set->memory[i];
		if (!now_at(p, was->bank, was->slot))
			entry[n++] = (struct entry){ compare(m, p, was, NULL), -1 };
	}
	qsort(entry, (size_t)n, sizeof *entry, by_want);
	for (int i = 0; i < n; i++)
		p->change[i] = entry[i].c;
	p->changes = n;
	p->again = true;
	p->margin = m->former->margin;
	count_keys(m, p);
	result = 0;
out:
	free(entry);
	return result;
}
