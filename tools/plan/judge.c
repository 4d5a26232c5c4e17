#include "tools/plan/judge.h"

#include "tools/plan/delay.h"
#include "tools/plan/guess.h"
#include "tools/plan/words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define PLEASANT_DB 10.0        /* median a listener enjoys (common practice)  */
#define USABLE_DB   FAINT_DB    /* of the stronger half                        */
#define DEAR        8.0         /* weight from which one exchange is enough    */
#define CLEAR_DB    12.0        /* no single look at noise reaches this        */

/* One channel under judgement. */
struct trial {
	const struct matter   *m;
	const struct channel  *ch;
	const struct suspect  *suspect;
	const struct band     *band;
	const struct interest *interest;
	const struct known    *known;
	bool                   pinned;
	struct former_word     former;          /* what the set and its listener say  */
	enum mode              mode;
	struct landing         landing;
	int                    index;
	struct judgement      *out;
};

enum mode judge_mode(const struct census *c, const struct channel *ch)
{
	static const enum mode modes[KIND_COUNT] = {
		[KIND_AM] = MODE_AM, [KIND_NFM] = MODE_NFM, [KIND_WFM] = MODE_WFM,
	};

	if (modes[ch->kind] != MODE_NONE && ch->confidence >= 0.6)
		return modes[ch->kind];
	return c->band[ch->band].mode;
}

static bool speaks(const struct channel *ch)
{
	return ch->kind == KIND_AM || ch->kind == KIND_NFM || ch->kind == KIND_WFM ||
	       ch->kind == KIND_UNKNOWN;
}

#define SAY(t, ...) snprintf((t)->out->reason, sizeof (t)->out->reason, __VA_ARGS__)

/* Each rule returns true when it has decided. */

static bool never_wanted(struct trial *t)
{
	if (!interests_never(t->m->interests, t->ch->centre))
		return false;
	SAY(t, "on your list of frequencies never to keep");
	return true;
}

static bool forbidden(struct trial *t)
{
	struct freq half = FREQ_KHZ(15);
	struct freq low = { t->ch->centre.thirds - half.thirds };
	struct freq high = { t->ch->centre.thirds + half.thirds };

	if (!landing_forbidden(low, high))
		return false;
	SAY(t, "in a cellular telephone band, which is never proposed");
	return true;
}

static bool not_a_station(struct trial *t)
{
	if (!suspicion_false(t->suspect->is))
		return false;
	SAY(t, "%s: %s", suspicion_name(t->suspect->is), t->suspect->why);
	return true;
}

static bool not_voice(struct trial *t)
{
	static const char *const what[KIND_COUNT] = {
		[KIND_CARRIER] = "a bare carrier: nothing to hear",
		[KIND_DATA] = "data: only noise on an analogue receiver",
		[KIND_NOISE] = "noise, no station",
	};

	if (speaks(t->ch))
		return false;
	if (t->ch->nature.talks)
		SAY(t, "data, perhaps digital voice: only noise on an analogue receiver");
	else
		SAY(t, "%s", what[t->ch->kind]);
	return true;
}

static bool not_wanted(struct trial *t)
{
	if (t->pinned || (t->interest->weight > 0 && t->interest->role != ROLE_NOTHING))
		return false;
	if (t->interest->role == ROLE_NOTHING)
		SAY(t, "%s: nothing to listen to", t->interest->title);
	else
		SAY(t, "%s has weight 0 in your interests", t->interest->title);
	return true;
}

static bool not_receivable(struct trial *t)
{
	const char *why;

	if (t->mode == MODE_NONE) {
		SAY(t, "the band plan gives it no mode to listen in");
		return true;
	}
	if (landing_find(t->m->receiver, t->ch->centre, t->mode, &t->band->raster,
			 &t->landing) < 0) {
		SAY(t, "%s cannot tune it in %s", t->m->receiver->name, mode_name(t->mode));
		return true;
	}
	if (landing_fits(t->m->receiver, t->mode, t->band->width_hz, t->landing.error, &why))
		return false;
	SAY(t, "%s %s: %+.2f kHz", t->m->receiver->name, why, freq_to_hz(t->landing.error) / 1e3);
	return true;
}

static bool not_heard_whole(struct trial *t)
{
	if (t->ch->overs > 0)
		return false;
	SAY(t, "on %.0f %% of the time, but no over has ended yet", 100 * t->ch->occupancy);
	return true;
}

/* What is in the set already stays on less: it costs nothing, and a night may be a poor one. */
static bool too_weak(struct trial *t)
{
	if (t->pinned || t->former.held || t->ch->level_db >= PLEASANT_DB ||
	    t->ch->strong_db >= USABLE_DB)
		return false;
	t->out->light = t->ch->overs >= 3;      /* fewer may be noise */
	SAY(t, "too weak: half of its overs stay below %.0f dB over the noise", t->ch->level_db);
	return true;
}

static const struct margin *margin_of(const struct trial *t)
{
	return t->m->former && t->m->former->margin.told ? &t->m->former->margin : NULL;
}

/* The set needs more than the dongle, as ticks have shown; who was heard on it is heard. */
static bool too_weak_for_the_set(struct trial *t)
{
	const struct margin *of = margin_of(t);

	if (!of || t->pinned || t->former.noted == NOTED_YES || t->ch->strong_db >= of->likely.low)
		return false;
	SAY(t,
	    "too weak for your set, which by your ticks needs %.0f to %.0f dB: the stronger half of its overs has %.0f",
	    of->likely.low, of->likely.high, t->ch->strong_db);
	return true;
}

static void keep(struct trial *t, enum fate fate);

/* What he locked or heard only noise on is never unlocked again. */
static bool locked_by_listener(struct trial *t)
{
	static const char *const why[NOTED_COUNT] = {
		[NOTED_NOISE] = "you heard only noise here: locked, clear it if you want the slot",
		[NOTED_LOCKED] = "locked by you",
	};

	if (!why[t->former.noted])
		return false;
	SAY(t, "%s", why[t->former.noted]);
	keep(t, FATE_LOCK);
	return true;
}

static bool endless(struct trial *t)
{
	bool loop = t->interest->role == ROLE_LOOP;

	if (t->ch->occupancy <= CONTINUOUS_SHARE && !loop)
		return false;
	if (t->ch->kind == KIND_UNKNOWN && !loop && !t->pinned) {
		SAY(t, "%.160s, and what it is could not be told", t->suspect->why);
		return true;
	}
	SAY(t, "talks without end: step to it by hand");
	keep(t, FATE_LOCK);
	return true;
}

static bool an_input(struct trial *t)
{
	const struct pair p = judge_pair(t->m->census, t->index);
	char mhz[FREQ_TEXT];

	if (p.is != PAIR_INPUT)
		return false;
	freq_format_mhz(mhz, t->m->census->channel[p.other].centre);
	if (t->pinned || t->interest->weight >= 4) {
		SAY(t, "input of %s: mobiles near you; step to it by hand", mhz);
		keep(t, FATE_LOCK);
	} else {
		SAY(t, "input of %s, where the same voices are heard better", mhz);
	}
	return true;
}

static bool enough(const struct channel *ch)
{
	return ch->overs >= 3 && ch->exchanges >= 2;
}

static bool too_little(struct trial *t)
{
	if (enough(t->ch) || t->pinned || t->former.held)
		return false;
	/* What matters most is kept on the first exchange that fits the band plan; one
	 * faint look is none, with a billion looks in a week. */
	if (t->interest->weight >= DEAR && t->ch->exchanges >= 1 && t->mode == t->band->mode &&
	    (t->ch->looks.busy >= 2 || t->ch->kind != KIND_UNKNOWN || t->ch->level_db >= CLEAR_DB))
		return false;
	t->out->light = true;
	SAY(t, "heard too little: %d over%s in %d exchange%s", t->ch->overs,
	    t->ch->overs == 1 ? "" : "s", t->ch->exchanges, t->ch->exchanges == 1 ? "" : "s");
	return true;
}

static bool worth_scanning(struct trial *t)
{
	const struct margin *of = margin_of(t);
	bool hard = of && t->former.noted != NOTED_YES && t->ch->level_db < of->db;

	SAY(t, "%s, weight %g%s%s%s", t->interest->title, t->interest->weight,
	    t->pinned ? ", pinned" : "", hard ? "; hard to hear on your set, by your ticks" : "",
	    t->suspect->is == SUSPECT_STUCK ? "; one over was stuck and is not counted on" : "");
	keep(t, FATE_SCAN);
	return true;
}

static bool (*const rules[])(struct trial *t) = {
	never_wanted, forbidden, not_a_station, not_voice, not_wanted, not_receivable,
	not_heard_whole, too_weak, too_weak_for_the_set, locked_by_listener, endless, an_input,
	too_little, worth_scanning,
};

static enum certainty certainty_of(const struct trial *t)
{
	const struct channel *ch = t->ch;
	bool endless = t->suspect->is == SUSPECT_CONTINUOUS;
	bool often = ch->overs >= SURE_OVERS && ch->exchanges >= SURE_EXCHANGES;

	if ((!enough(ch) && !endless) || ch->strong_db < USABLE_DB)
		return CERTAIN_WEAK;
	if ((often || endless) && ch->level_db >= SURE_DB && ch->agreed >= SURE_AGREED &&
	    (t->suspect->is == SUSPECT_NONE || endless))
		return CERTAIN_SURE;
	return CERTAIN_LIKELY;
}

/* What the user calls it, or who it probably is and why. */
static void name_it(const struct trial *t, struct freq f, struct memory *m)
{
	struct guess g[GUESSES];
	struct clues k = guess_clues(t->m->census, t->index, t->interest);
	char designator[16];
	/* On whole 25 kHz the 8.33 kHz channel and the wider one share a carrier. */
	bool split = t->band->raster.step.thirds == 25000 && f.thirds % 75000 != 0;

	if (t->known && t->known->name[0]) {
		snprintf(m->name, sizeof m->name, "%s", t->known->name);
		return;
	}
	int n = guess_who(&k, g);
	if (split && landing_designator(f, designator))
		snprintf(m->name, sizeof m->name, "%s, probably %s", designator, g[0].who);
	else
		snprintf(m->name, sizeof m->name, "probably %s", g[0].who);
	/* The last one is the band plan's word, which a reader has anyway. */
	if (n > 1)
		snprintf(m->guess, sizeof m->guess, "guessed: %.90s%s%s%s", g[0].why,
			 n > 2 ? " (or else " : "", n > 2 ? g[1].who : "", n > 2 ? ")" : "");
}

static void keep(struct trial *t, enum fate fate)
{
	const struct pair pair = judge_pair(t->m->census, t->index);
	struct memory *m = &t->out->memory;

	t->out->fate = fate;
	*m = (struct memory){
		.channel = t->index,
		.frequency = t->ch->centre,
		.landing = t->landing,
		.mode = t->mode,
		.locked = fate == FATE_LOCK,
		.weight = t->interest->weight,
		.certainty = certainty_of(t),
		.pinned = t->pinned,
		.noted = t->former.noted,
		.rank = interests_rank(t->m->interests, t->interest),
	};
	if (fate != FATE_LOCK)
		m->delay_us = delay_measured(t->m->receiver, t->m->census, t->index, m->delay_why);
	snprintf(m->family, sizeof m->family, "%s",
		 fate == FATE_LOCK ? "locked" : t->interest->family);
	snprintf(m->service, sizeof m->service, "%s",
		 t->interest->service[0] ? t->interest->service : t->band->service);
	snprintf(m->reason, sizeof m->reason, "%.*s", (int)sizeof m->reason - 1, t->out->reason);
	name_it(t, t->ch->centre, m);
	judge_pair_words(t->m->census, &pair, m->pair, sizeof m->pair);
	hazard_at(t->m->receiver, t->m->census, t->landing.landed, t->mode, m->hazard);
	words_evidence(t->m->census, t->ch, m->evidence, sizeof m->evidence);
}

static void summon(struct trial *t)
{
	const struct interests *i = t->m->interests;

	t->known = interests_known(i, t->ch->centre);
	t->band = &t->m->census->band[t->ch->band];
	t->interest = interests_of(i, t->known && t->known->service[0] ? t->known->service :
				   t->band->service);
	t->pinned = interests_pinned(i, t->ch->centre);
	t->former = former_of(t->m->former, t->index);
	t->mode = judge_mode(t->m->census, t->ch);
}

/* A pinned slot is shown with what the survey knows of it, and with what it would have said. */
static void hold_pinned(struct trial *t)
{
	const struct memory *was = t->former.fixed;
	char said[sizeof t->out->reason], mhz[FREQ_TEXT], on[FREQ_TEXT + 16] = "";

	if (!was || landing_forbidden(was->frequency, was->frequency))
		return;
	snprintf(said, sizeof said, "%s", t->out->reason);
	if (t->out->fate == FATE_LEAVE)
		keep(t, FATE_SCAN);
	if (was->landing.landed.thirds != t->ch->centre.thirds)
		snprintf(on, sizeof on, " (heard on %s)", freq_format_mhz(mhz, t->ch->centre));
	t->out->fate = was->locked ? FATE_LOCK : FATE_SCAN;
	t->out->light = false;
	former_hold(was, t->m->receiver, t->m->census, &t->out->memory);
	snprintf(t->out->memory.reason, sizeof t->out->memory.reason,
		 "slot pinned by you%s; survey: %.70s", on, said);
}

void judge(const struct matter *m, int channel, struct judgement *out)
{
	struct trial t = {
		.m = m, .ch = &m->census->channel[channel], .suspect = &m->suspect[channel],
		.index = channel, .out = out,
	};

	*out = (struct judgement){ .fate = FATE_LEAVE };
	summon(&t);
	out->held = t.former.held;
	for (size_t r = 0; r < sizeof rules / sizeof rules[0] && !rules[r](&t); r++)
		;
	hold_pinned(&t);
}
