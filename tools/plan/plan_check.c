#include "tools/plan/plan.h"

#include "tools/plan/delay.h"
#include "tools/plan/judge.h"
#include "tools/plan/layout.h"
#include "tools/plan/ranges.h"
#include "tools/plan/scan.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What the rules look at, and room for the words. */
struct audit {
	const struct plan     *p;
	const struct receiver *r;
	const struct census   *c;
	const struct suspect  *s;
	char                  *out;
};

#define SAY(a, ...) (snprintf((a)->out, 200, __VA_ARGS__), false)

static bool on_step(const struct receiver *r, struct freq f, struct freq step)
{
	return step.thirds > 0 && (f.thirds - r->landing_base.thirds) % step.thirds == 0;
}

static bool has_step(const struct reach *reach, struct freq step)
{
	for (int i = 0; i < reach->steps; i++)
		if (reach->step[i].thirds == step.thirds)
			return true;
	return false;
}

/* Each rule says true when it holds, or says how it does not. */

static bool lands(const struct audit *a, const struct memory *m)
{
	const struct reach *reach = receiver_reach(a->r, m->landing.landed, m->mode);
	double width =
		m->channel >= 0 ? a->c->band[a->c->channel[m->channel].band].width_hz : 11000;
	const char *why;

	if (!reach || !has_step(reach, m->landing.step))
		return SAY(a, "bank %d slot %d is outside the coverage", m->bank, m->slot);
	if (!on_step(a->r, m->landing.landed, m->landing.step))
		return SAY(a, "bank %d slot %d does not land on its step", m->bank, m->slot);
	if (m->landing.error.thirds != m->landing.landed.thirds - m->frequency.thirds)
		return SAY(a, "bank %d slot %d tells a wrong error", m->bank, m->slot);
	if (!landing_fits(a->r, m->mode, width, m->landing.error, &why))
		return SAY(a, "bank %d slot %d %s", m->bank, m->slot, why);
	if (landing_forbidden((struct freq){ m->frequency.thirds - FREQ_KHZ(10).thirds },
			      (struct freq){ m->frequency.thirds + FREQ_KHZ(10).thirds }))
		return SAY(a, "bank %d slot %d is a cellular frequency", m->bank, m->slot);
	return true;
}

static bool a_station(const struct audit *a, const struct memory *m)
{
	if (m->channel < 0)
		return true;
	const struct channel *ch = &a->c->channel[m->channel];
	if (suspicion_false(a->s[m->channel].is))
		return SAY(a, "bank %d slot %d is a %s", m->bank, m->slot,
			   suspicion_name(a->s[m->channel].is));
	if (!m->locked && ch->occupancy > CONTINUOUS_SHARE)
		return SAY(a, "bank %d slot %d is continuous and not locked", m->bank, m->slot);
	if (!m->locked &&
	    (ch->kind == KIND_DATA || ch->kind == KIND_CARRIER || ch->kind == KIND_NOISE))
		return SAY(a, "bank %d slot %d is %s in a scanned slot", m->bank, m->slot,
			   kind_name(ch->kind));
	return true;
}

static bool right_mode(const struct audit *a, const struct memory *m)
{
	if (m->channel < 0)
		return true;
	const struct channel *ch = &a->c->channel[m->channel];
	const struct band *b = &a->c->band[ch->band];
	bool thirds = b->raster.step.thirds == 25000 && m->frequency.thirds % 75000 != 0;

	if (m->mode != judge_mode(a->c, ch))
		return SAY(a, "bank %d slot %d is in the wrong mode", m->bank, m->slot);
	if (thirds && strncmp(m->name, "probably", 8) == 0)
		return SAY(a, "bank %d slot %d lacks its 8.33 kHz name", m->bank, m->slot);
	return true;
}

static bool delay_set(const struct audit *a, const struct memory *m)
{
	bool can = m->delay_us == 0 && (m->locked || a->r->delays == 0);

	for (int i = 0; i < a->r->delays; i++)
		can |= !m->locked && a->r->delay_us[i] == m->delay_us;
	if (!can)
		return SAY(a, "bank %d slot %d has a delay that cannot be set or is not wanted",
			   m->bank, m->slot);
	if (m->locked || m->channel < 0 || a->r->delays == 0)
		return true;
	if (!delay_fits(a->r, &a->c->channel[m->channel], m->delay_us))
		return SAY(a, "bank %d slot %d has a delay shorter than its gaps", m->bank,
			   m->slot);
	return true;
}

static bool explained(const struct audit *a, const struct memory *m)
{
	if (!m->reason[0] || !m->evidence[0] || !m->name[0])
		return SAY(a, "bank %d slot %d has no reason, evidence or name", m->bank, m->slot);
	return true;
}

static bool paired(const struct audit *a, const struct memory *m)
{
	if (m->channel < 0)
		return true;
	const struct pair p = judge_pair(a->c, m->channel);
	if (p.is == PAIR_INPUT && !m->locked)
		return SAY(a, "bank %d slot %d is an input in a scanned slot", m->bank, m->slot);
	if ((p.is == PAIR_OUTPUT || p.is == PAIR_SIDE) && !m->pair[0])
		return SAY(a, "bank %d slot %d does not name its other frequency", m->bank,
			   m->slot);
	return true;
}

static bool prior(const struct audit *a, const struct memory *m)
{
	if (!m->priority)
		return true;
	if (m->locked || m->channel < 0 || a->c->channel[m->channel].occupancy >= 0.05 ||
	    (a->c->channel[m->channel].kind != KIND_AM &&
	     a->c->channel[m->channel].kind != KIND_NFM))
		return SAY(a, "bank %d slot %d is no fit priority channel", m->bank, m->slot);
	return true;
}

/* A second seat is one, of a memory that is there. */
static bool second(const struct audit *a, const struct memory *m)
{
	if (m->same_as.bank == 0)
		return true;
	for (int i = 0; i < a->p->memories; i++) {
		const struct memory *o = &a->p->memory[i];
		if (o->bank == m->same_as.bank && o->slot == m->same_as.slot &&
		    o->same_as.bank == 0 && o->bank != m->bank && o->channel == m->channel &&
		    o->mode == m->mode && o->landing.landed.thirds == m->landing.landed.thirds &&
		    !m->locked)
			return true;
	}
	return SAY(a, "bank %d slot %d is no second seat of bank %d slot %d", m->bank, m->slot,
		   m->same_as.bank, m->same_as.slot);
}

static bool (*const memory_rules[])(const struct audit *a, const struct memory *m) = {
	lands, a_station, right_mode, delay_set, explained, paired, prior, second,
};

/* Left as the set had it: the listener answers for it. */
static bool as_it_was(const struct memory *m)
{
	return m->fixed || m->kept;
}

static bool slots(const struct audit *a)
{
	int bank = 0, slot = 0, live = 0, used = 0, priorities = 0;

	for (int i = 0; i < a->p->memories; i++) {
		const struct memory *m = &a->p->memory[i];
		if (m->bank != bank)
			live = used = slot = 0;
		if (m->bank < bank || m->bank < 1 || m->bank > a->r->banks || m->slot <= slot ||
		    m->slot > a->r->memories)
			return SAY(a, "bank %d slot %d is out of order or does not exist", m->bank,
				   m->slot);
		bank = m->bank;
		slot = m->slot;
		live += !m->locked && !as_it_was(m);
		priorities += m->priority;
		if (live > a->r->live_per_bank)
			return SAY(a, "bank %d has more than %d scanned memories", bank,
				   a->r->live_per_bank);
		used += !as_it_was(m);
		if (used > a->r->memories - a->r->empty_per_bank)
			return SAY(a, "bank %d has fewer than %d empty memories", bank,
				   a->r->empty_per_bank);
	}
	if (priorities > 1 || priorities > a->r->priorities)
		return SAY(a, "there are %d priority channels", priorities);
	return true;
}

static bool no_doubles(const struct audit *a)
{
	for (int i = 0; i < a->p->memories; i++)
		for (int k = 0; k < i; k++)
			if (!as_it_was(&a->p->memory[i]) && !as_it_was(&a->p->memory[k]) &&
			    !a->p->memory[i].locked && !a->p->memory[k].locked &&
			    !a->p->memory[i].same_as.bank && !a->p->memory[k].same_as.bank &&
			    a->p->memory[i].landing.landed.thirds ==
				    a->p->memory[k].landing.landed.thirds)
				return SAY(
					a,
					"bank %d slot %d and bank %d slot %d land on one frequency",
					a->p->memory[k].bank, a->p->memory[k].slot,
					a->p->memory[i].bank, a->p->memory[i].slot);
	return true;
}

static bool one_list_each(const struct audit *a)
{
	for (int ch = 0; ch < a->c->channels; ch++) {
		int n = 0;
		for (int i = 0; i < a->p->memories; i++)
			n += a->p->memory[i].channel == ch && !a->p->memory[i].same_as.bank;
		for (int i = 0; i < a->p->lefts; i++)
			if (a->p->left[i].channel == ch) {
				n++;
				if (!a->p->left[i].reason[0])
					return SAY(a, "channel %d is left out without a reason",
						   ch);
			}
		if (n != 1)
			return SAY(a, "channel %d is in %d lists", ch, n);
	}
	return true;
}

/* What never ends is not in the range, nor does it reach into it. */
static bool sticks(const struct audit *a, const struct search *s)
{
	for (int i = 0; i < a->c->channels; i++) {
		const struct channel *ch = &a->c->channel[i];
		int64_t half = FREQ_HZ(a->c->band[ch->band].width_hz / 2).thirds;
		if (ch->occupancy > CONTINUOUS_SHARE &&
		    ch->centre.thirds + half >= s->low.thirds &&
		    ch->centre.thirds - half <= s->high.thirds)
			return true;
	}
	return false;
}

/* Two that search the same steps. */
static bool overlaps(const struct audit *a, const struct search *s)
{
	for (const struct search *o = a->p->search; o < s; o++)
		if (o->band == s->band && o->low.thirds <= s->high.thirds &&
		    o->high.thirds >= s->low.thirds)
			return true;
	return false;
}

static bool one_range(const struct audit *a, const struct search *s)
{
	const struct reach *reach = receiver_reach(a->r, s->low, s->mode);
	const struct raster *raster = &a->c->band[s->band].raster;

	if (!reach || s->high.thirds <= s->low.thirds || s->high.thirds > reach->high.thirds ||
	    !has_step(reach, s->step))
		return SAY(a, "a search range leaves the coverage");
	if (!on_step(a->r, s->low, s->step) || !on_step(a->r, s->high, s->step))
		return SAY(a, "a search range does not begin and end on its step");
	if (s->low.thirds < raster->first.thirds || s->high.thirds > raster_last(raster).thirds)
		return SAY(a, "a search range leaves its band");
	if (landing_forbidden(s->low, s->high))
		return SAY(a, "a search range touches a cellular band");
	if (fabs(s->sweep_s - scan_sweep_s(s->low, s->high, s->step, a->r->scan_rate)) > 1e-9)
		return SAY(a, "a search range tells a wrong sweep time");
	if (s->sweep_s > SWEEP_S)
		return SAY(a, "a search range takes %.1f s to sweep", s->sweep_s);
	if (sticks(a, s))
		return SAY(a, "a search would stick inside its range");
	if (s->worth <= 0)
		return SAY(a, "a search range is not worth its time");
	if (overlaps(a, s))
		return SAY(a, "two search ranges overlap");
	return true;
}

static bool ranges(const struct audit *a)
{
	if (a->p->searches > 0 && a->p->searches > a->r->search_ranges - a->r->ranges_free)
		return SAY(a, "there are %d search ranges", a->p->searches);
	for (int i = 0; i < a->p->searches; i++)
		if (!one_range(a, &a->p->search[i]))
			return false;
	return true;
}

/* No channel that talks without end is scanned together with fire. */
static bool sets(const struct audit *a)
{
	for (int s = 0; s < a->p->sets; s++) {
		const struct bankset *set = &a->p->set[s];
		const struct memory *urgent = NULL, *chatty = NULL;
		int n = 0;
		for (int pass = 0; pass < 2; pass++)
			for (int i = 0; i < a->p->memories; i++) {
				const struct memory *m = &a->p->memory[i];
				if (m->locked || !(set->banks >> (m->bank - 1) & 1))
					continue;
				n += pass == 0;
				if (as_it_was(m))
					continue;
				if (layout_urgent(m))
					urgent = m;
				else if (urgent && layout_chatty(a->c, m) &&
					 strcmp(urgent->family, m->family) != 0)
					chatty = m;
			}
		if (chatty)
			return SAY(a, "set %s has a busy channel beside fire", set->name);
		if (n != set->scanned ||
		    fabs(set->cycle_s - scan_cycle_s(n, a->r->scan_rate)) > 1e-9)
			return SAY(a, "set %s tells a wrong cycle", set->name);
	}
	return true;
}

static bool (*const plan_rules[])(const struct audit *a) = {
	slots, no_doubles, one_list_each, ranges, sets,
};

const char *plan_check(const struct plan *p, const struct receiver *r, const struct census *c,
		       const struct suspect *s, char out[200])
{
	const struct audit a = { p, r, c, s, out };

	for (int i = 0; i < p->memories; i++)
		for (size_t n = 0; n < sizeof memory_rules / sizeof memory_rules[0]; n++)
			if ((!as_it_was(&p->memory[i]) || memory_rules[n] == explained) &&
			    !memory_rules[n](&a, &p->memory[i]))
				return out;
	for (size_t n = 0; n < sizeof plan_rules / sizeof plan_rules[0]; n++)
		if (!plan_rules[n](&a))
			return out;
	return NULL;
}
