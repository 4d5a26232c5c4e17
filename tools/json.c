#include "tools/export.h"

#include "tools/plan/words.h"

#include <math.h>

#include <jansson.h>

/* Digits a person would not call noise; jansson prints them without a locale. */
static json_t *rounded(double v, double unit)
{
	return json_real(round(v / unit) * unit);
}

static json_t *frequency(struct freq f)
{
	char text[FREQ_TEXT];

	return json_string(freq_format(text, f));
}

static json_t *when(int64_t us)
{
	char text[TIME_TEXT];

	return us ? json_string(words_time(text, us)) : json_null();
}

/* null for no text, or an empty one */
static json_t *or_null(const char *text)
{
	return text && *text ? json_string(text) : json_null();
}

/* A figure with its interval and in how many overs it was measured; null: in none. */
static json_t *gauge_object(const struct gauge *g, double unit)
{
	return g->overs ? json_pack("{s:o, s:o, s:o, s:i}", "median", rounded(g->median, unit), "low",
				    rounded(g->likely.low, unit), "high", rounded(g->likely.high, unit),
				    "overs", g->overs)
			: json_null();
}

static json_t *code_or_null(int code)
{
	char octal[16];

	snprintf(octal, sizeof octal, "%03o", (unsigned)code);
	return code ? json_string(octal) : json_null();
}

/* Who shares the channel. No tone and no code: somebody without. */
static json_t *users_array(const struct nature *n)
{
	json_t *all = json_array();

	for (int i = 0; i < n->believed; i++) {
		int32_t tone = n->users.user[i].tone_ddhz;
		int code = n->users.user[i].code;
		json_array_append_new(all, json_pack("{s:o, s:o, s:o, s:i}", "tone_hz",
			tone ? rounded(0.1 * tone, 0.1) : json_null(), "code", code_or_null(code),
			"code_inverted", code_or_null(code ? code_inverse(code) : 0), "overs",
			n->users.user[i].overs));
	}
	return all;
}

/* What a channel carries, beside its kind. */
static json_t *nature_object(const struct nature *n)
{
	return json_pack("{s:o, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:b}", "users", users_array(n),
		"users_of_overs", n->users.overs, "occupied_hz", gauge_object(&n->occupied_hz, 1),
		"down26_hz", gauge_object(&n->down26_hz, 1), "deviation_hz",
		gauge_object(&n->deviation_hz, 1), "am_depth", gauge_object(&n->am_depth, 1e-3),
		"deviation_system_hz", n->system_hz ? json_integer(n->system_hz) : json_null(),
		"designator", or_null(n->designator), "talks", n->talks);
}

/* Who it probably is, the likeliest first; what is no station is nobody. */
static json_t *guesses_array(const struct told *t, int i)
{
	struct guess g[GUESSES];
	json_t *all = json_array();
	int n = told_guess(t, i, g);

	for (int k = 0; k < n; k++)
		json_array_append_new(all, json_pack("{s:s, s:s}", "who", g[k].who, "why", g[k].why));
	return all;
}

static json_t *estimate_object(const struct estimate *e)
{
	return e->value > 0 ? json_pack("{s:o, s:o, s:o}", "value", rounded(e->value, 0.01), "low",
					rounded(e->likely.low, 0.01), "high",
					rounded(e->likely.high, 0.01)) : json_null();
}

/* How it is used. */
static json_t *traffic_object(const struct traffic *t)
{
	return json_pack("{s:s, s:o, s:o, s:o, s:i, s:o, s:o}", "shape", shape_name(t->shape), "over_s",
		estimate_object(&t->over_s), "gap_s", estimate_object(&t->gap_s), "exchanges_h",
		estimate_object(&t->exchanges_h), "exchanges", t->exchanges, "period_s",
		t->period_s > 0 ? rounded(t->period_s, 0.01) : json_null(), "stuck_s",
		t->stuck_s > 0 ? rounded(t->stuck_s, 1) : json_null());
}

static json_t *channel_object(const struct told *t, int i)
{
	const struct channel *ch = &t->census->channel[i];
	const struct suspect *s = &t->suspect[i];
	const struct band *b = &t->census->band[ch->band];
	char listed[LISTED_TEXT], pair[PAIR_TEXT];
	int32_t tone = nature_tone_ddhz(&ch->nature);

	return json_pack(
		"{s:s, s:i, s:o, s:o, s:s, s:s, s:o, s:o, s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:i,"
		" s:o, s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
		"band", b->id, "channel", (int)ch->channel, "frequency_hz", frequency(ch->centre),
		"step_hz", frequency(b->raster.step), "mode", mode_name(b->mode), "service",
		b->service, "first_seen", when(ch->first_us), "last_seen", when(ch->last_us),
		"looks", (json_int_t)ch->looks.looks, "busy_looks", (json_int_t)ch->looks.busy,
		"looked_s", rounded(1e-6 * (double)ch->looked_us, 1e-3), "busy_s",
		rounded(1e-6 * (double)ch->busy_us, 1e-3), "occupancy",
		rounded(ch->occupancy, 1e-6), "occupancy_low", rounded(ch->likely.low, 1e-6),
		"occupancy_high", rounded(ch->likely.high, 1e-6), "overs", ch->overs, "level_db",
		rounded(ch->level_db, 0.1), "peak_db", rounded(ch->peak_db, 0.1), "offset_hz",
		rounded(ch->offset_hz, 1), "width_hz", rounded(ch->width_hz, 1), "kind",
		kind_name(ch->kind), "confidence", rounded(ch->confidence, 1e-3), "tone_hz",
		tone > 0 ? rounded(0.1 * tone, 0.1) : json_null(), "nature", nature_object(&ch->nature),
		"traffic", traffic_object(&ch->traffic), "pair",
		or_null(pair_evidence(t->census, i, pair, sizeof pair)), "suspect",
		or_null(suspicion_name(s->is)), "suspect_why",
		s->is ? json_string(s->why) : json_null(), "probably", guesses_array(t, i), "listed",
		or_null(licences_words(t->licences, ch->centre, b->raster.step, listed)));
}

/* Prints and lets go; NULL is want of memory. */
static int print(FILE *to, json_t *all)
{
	if (!all)
		return -1;
	int result = json_dumpf(all, to, JSON_INDENT(2) | JSON_REAL_PRECISION(9));
	fputc('\n', to);
	json_decref(all);
	/* What could not be written shows in the stream. */
	return result < 0 && !ferror(to) ? -1 : 0;
}

int json_channels(FILE *to, const struct told *t)
{
	json_t *all = json_array();

	for (int i = 0; i < t->census->channels; i++)
		if (t->census->channel[i].overs >= t->min_overs &&
		    json_array_append_new(all, channel_object(t, i)) < 0) {
			json_decref(all);
			return -1;
		}
	return print(to, all);
}

static json_t *memory_object(const struct memory *m, const struct census *c)
{
	return json_pack(
		"{s:i, s:i, s:o, s:o, s:o, s:o, s:s, s:o, s:b, s:b, s:s, s:s, s:s, s:s, s:s, s:o,"
		" s:o, s:o, s:o, s:o, s:o}",
		"bank", m->bank, "slot", m->slot, "frequency_hz", frequency(m->frequency),
		"landed_hz", frequency(m->landing.landed), "error_hz",
		rounded(freq_to_hz(m->landing.error), 1e-3), "step_hz", frequency(m->landing.step),
		"mode", mode_name(m->mode), "delay_s", rounded(1e-6 * (double)m->delay_us, 0.1),
		"locked", m->locked, "priority", m->priority, "name", m->name, "service",
		m->service, "reason", m->reason, "certainty", certainty_name(m->certainty),
		"evidence", m->evidence, "pair", or_null(m->pair), "guess", or_null(m->guess),
		"listed", or_null(m->listed), "hazard", or_null(m->hazard), "same_as",
		m->same_as.bank ? json_pack("{s:i, s:i}", "bank", m->same_as.bank, "slot", m->same_as.slot)
				: json_null(), "band",
		m->channel >= 0 ? json_string(c->band[c->channel[m->channel].band].id)
				: json_null());
}

static json_t *search_object(const struct search *s)
{
	return json_pack("{s:o, s:o, s:o, s:s, s:o, s:s}", "low_hz", frequency(s->low), "high_hz",
			 frequency(s->high), "step_hz", frequency(s->step), "mode",
			 mode_name(s->mode), "sweep_s", rounded(s->sweep_s, 0.01), "reason",
			 s->reason);
}

static json_t *left_object(const struct left *l, const struct census *c)
{
	const struct channel *ch = &c->channel[l->channel];

	return json_pack("{s:s, s:i, s:o, s:i, s:s, s:o}",
		"band", c->band[ch->band].id, "channel", (int)ch->channel,
		"frequency_hz", frequency(ch->centre), "overs", ch->overs, "reason", l->reason,
		"listed", or_null(l->listed));
}

static json_t *set_object(const struct bankset *s)
{
	json_t *banks = json_array();

	for (int b = 0; b < 64; b++)
		if (s->banks >> b & 1)
			json_array_append_new(banks, json_integer(b + 1));
	return json_pack("{s:s, s:o, s:i, s:o, s:i, s:o, s:o, s:o, s:o, s:o}", "name", s->name, "banks",
		banks, "scanned", s->scanned, "cycle_s", rounded(s->cycle_s, 0.01),
		"overs_rehearsed", s->overs, "overs_heard", rounded(s->heard, 1e-3),
		"urgent_heard", s->overs && s->urgent >= 0 ? rounded(s->urgent, 1e-3) : json_null(),
		"exchanges_met", rounded(s->met, 1e-3), "held", rounded(s->held, 1e-3),
		"late_s", rounded(s->late_s, 0.01));
}

int json_plan(FILE *to, const struct plan *p, const struct census *c)
{
	json_t *memory = json_array(), *search = json_array(), *left = json_array(),
	       *set = json_array(), *note = json_array();
	int failed = 0;

	for (int i = 0; i < p->memories; i++)
		failed |= json_array_append_new(memory, memory_object(&p->memory[i], c));
	for (int i = 0; i < p->searches; i++)
		failed |= json_array_append_new(search, search_object(&p->search[i]));
	for (int i = 0; i < p->lefts; i++)
		failed |= json_array_append_new(left, left_object(&p->left[i], c));
	for (int i = 0; i < p->sets; i++)
		failed |= json_array_append_new(set, set_object(&p->set[i]));
	for (int i = 0; i < p->notes; i++)
		failed |= json_array_append_new(note, json_pack("{s:s, s:s}", "band",
			c->band[p->note[i].band].id, "text", p->note[i].text));
	json_t *all = json_pack("{s:s, s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o, s:o}",
		"receiver", p->receiver, "squelch_db", rounded(0.1 * c->squelch_ddb, 0.1),
		"from", when(c->start_us), "until", when(c->end_us), "priority", p->priority,
		"memories", memory, "search_ranges", search, "sets", set, "left_out", left, "notes",
		note);
	if (failed) {
		json_decref(all);
		return -1;
	}
	return print(to, all);
}

/* Odds: three digits tell all. */
static json_t *odds(double v)
{
	return rounded(v, pow(10, floor(log10(fmax(v, 1e-9))) - 2));
}

static json_t *spacing_object(const struct spacing *s)
{
	return json_pack("{s:o, s:o}", "step_hz", frequency(s->step), "offset_hz",
			 frequency(s->offset));
}

static json_t *raster_object(const struct band *b, const struct raster_told *t)
{
	const struct spacing_verdict *v = &t->verdict;
	char line[RASTER_LINE_TEXT];
	bool guessed = v->word != SPACING_TOO_FEW;

	return json_pack(
		"{s:s, s:s, s:o, s:o, s:o, s:o, s:i, s:i, s:o}", "band", b->id, "verdict",
		raster_word_name(t->word), "surveyed", spacing_object(&t->surveyed), "best",
		guessed ? spacing_object(&v->best) : json_null(), "odds",
		guessed ? odds(v->odds) : json_null(), "odds_over_surveyed",
		guessed ? odds(v->asked_odds) : json_null(), "centres", t->heard,
		"centres_agree", v->agree, "band_plan_line",
		t->word == RASTER_WRONG ? json_string(rasters_line(b, t, line)) : json_null());
}

int json_rasters(FILE *to, const struct census *c, const struct raster_told *t)
{
	json_t *all = json_array();
	int failed = 0;

	for (int b = 0; b < c->bands; b++)
		failed |= json_array_append_new(all, raster_object(&c->band[b], &t[b]));
	if (failed) {
		json_decref(all);
		return -1;
	}
	return print(to, all);
}

static json_t *side_object(const struct side *s)
{
	return json_pack("{s:b, s:i, s:o}", "heard", s->channel >= 0, "exchanges", s->exchanges, "hours",
			 rounded(s->hours, 1e-3));
}

static json_t *difference_object(const struct comparison *c, const struct difference *d)
{
	const struct band *b = &c->census[d->second]->band[d->band];

	return json_pack("{s:s, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
		"band", b->id, "frequency_hz", frequency(d->centre), "change", change_name(d->is),
		"first", side_object(&d->side[0]), "second", side_object(&d->side[1]),
		"p", json_real(d->p), "times_low", rounded(d->times.low, 1e-3),
		"times_high", isfinite(d->times.high) ? rounded(d->times.high, 1e-3) : json_null(),
		"was", or_null(d->was[0] ? d->was : NULL), "now", or_null(d->now[0] ? d->now : NULL));
}

int json_compare(FILE *to, const struct comparison *c)
{
	json_t *list = json_array(), *hours = json_array();
	int failed = 0;

	for (int i = 0; i < c->n; i++)
		failed |= json_array_append_new(list, difference_object(c, &c->of[i]));
	for (int h = 0; h < WEEK_HOURS; h++)
		if (c->counts[h])
			failed |= json_array_append_new(hours, json_integer(h));
	json_t *all = json_pack("{s:s, s:s, s:o, s:i, s:o, s:i, s:o}", "zone", c->census[0]->zone, "hours_of",
		c->of_week ? "week" : "day", "hours", hours, "tests", c->tests, "p_needed",
		rounded(COMPARE_P, 1e-6), "alike", c->alike, "differences", list);
	if (failed) {
		json_decref(all);
		return -1;
	}
	return print(to, all);
}

/* Shares are null where there is nothing to share. */
static json_t *share(double part, double of)
{
	return of > 0 ? rounded(part / of, 1e-3) : json_null();
}

static json_t *part_object(const struct part *p, const struct review *v)
{
	struct interval met = review_met(p, v->draws);

	return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
		"overs", rounded((double)p->overs / v->draws, 0.1), "overs_heard", share(p->heard, p->overs),
		"exchanges", rounded((double)p->exchanges / v->draws, 0.1), "exchanges_met",
		share(p->met, p->exchanges), "exchanges_met_low", rounded(met.low, 1e-3), "exchanges_met_high",
		rounded(met.high, 1e-3), "late_s", p->heard ? rounded(p->late_s / p->heard, 0.01) : json_null(),
		"held", share(p->held_s, v->told.seconds), "cut", rounded((double)p->cut / v->draws, 0.1));
}

static json_t *seat_object(const struct rehearsed *r, const struct review *v, const struct memory *m)
{
	bool played = m->channel >= 0 && !m->locked && v->line[m->channel].overs > 0;

	return json_pack("{s:i, s:i, s:o, s:s, s:b, s:b, s:b, s:I, s:o, s:o}", "bank", m->bank, "slot", m->slot,
		"landed_hz", frequency(m->landing.landed), "mode", mode_name(m->mode), "locked", m->locked,
		"priority", m->priority, "heard_here", m->channel >= 0, "looks",
		(json_int_t)typed_looks(m, r->census, r->receiver), "same_as", m->same_as.bank ?
		json_pack("{s:i, s:i}", "bank", m->same_as.bank, "slot", m->same_as.slot) : json_null(),
		"rehearsed", played ? part_object(&v->line[m->channel], v) : json_null());
}

static json_t *burden_object(const struct rehearsed *r, const struct burden *b)
{
	return b->channel < 0 ? json_null() : json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o}",
		"frequency_hz", frequency(r->census->channel[b->channel].centre), "held", rounded(b->held, 1e-3),
		"others_gain", rounded(b->gain, 1e-3), "others_gain_low", rounded(b->low, 1e-3),
		"others_gain_high", rounded(b->high, 1e-3), "overs_gained", rounded(b->gained, 0.1), "overs_lost",
		rounded(b->lost, 0.1));
}

static json_t *review_object(const struct rehearsed *r, const struct review *v)
{
	json_t *banks = json_array(), *memory = json_array();
	bool played = v->told.all.overs > 0;

	for (int b = 0; b < 64; b++)
		if (v->banks >> b & 1)
			json_array_append_new(banks, json_integer(b + 1));
	for (int i = 0; i < r->plan->memories; i++)
		if (v->banks >> (r->plan->memory[i].bank - 1) & 1)
			json_array_append_new(memory, seat_object(r, v, &r->plan->memory[i]));
	return json_pack("{s:o, s:i, s:o, s:o, s:o, s:o, s:o, s:o}", "banks", banks, "scanned", v->scanned,
		"cycle_s", rounded(v->cycle_s, 0.01), "rehearsed", played ? part_object(&v->told.all, v) : json_null(),
		"overs_heard_low", played ? rounded(v->low, 1e-3) : json_null(), "overs_heard_high",
		played ? rounded(v->high, 1e-3) : json_null(), "burden", burden_object(r, &v->burden), "memories",
		memory);
}

int json_rehearsal(FILE *to, const struct rehearsed *r)
{
	json_t *sets = json_array();
	int noted[NOTED_COUNT] = { 0 }, failed = 0;

	for (int i = 0; i < r->typed->n; i++)
		noted[r->typed->at[i].noted]++;
	for (int i = 0; i < r->reviews; i++)
		failed |= json_array_append_new(sets, review_object(r, &r->review[i]));
	json_t *all = json_pack("{s:s, s:o, s:o, s:o, s:{s:i, s:i, s:i}, s:o}", "receiver", r->plan->receiver,
		"squelch_db", rounded(0.1 * r->census->squelch_ddb, 0.1), "from", when(r->census->start_us), "until",
		when(r->census->end_us), "noted", "yes", noted[NOTED_YES], "noise", noted[NOTED_NOISE], "locked",
		noted[NOTED_LOCKED], "sets", sets);
	if (failed) {
		json_decref(all);
		return -1;
	}
	return print(to, all);
}
