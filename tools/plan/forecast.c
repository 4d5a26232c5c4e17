#include "tools/plan/forecast.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tools/plan/draw.h"
#include "tools/plan/layout.h"
#include "tools/plan/together.h"

/* Of a survey of more than a day each draw is of another spell of work, spread over all of
 * them: in between nobody looked, and 30 nights eight times over say no more. */
#define SPELL_MOST_US (24 * HOUR_US)

/* What never ends is no life. */
static bool lively(const struct census *c, int64_t from_us, int64_t to_us)
{
	for (int i = 0; i < c->channels; i++) {
		const struct channel *ch = &c->channel[i];
		for (int k = ch->over;
		     ch->occupancy <= CONTINUOUS_SHARE && k < ch->over + ch->overs; k++)
			if (c->over[k].first_us >= from_us && c->over[k].first_us < to_us)
				return true;
	}
	return false;
}

/* The spells in which anything was heard, for a night of silence tells nothing of a plan: their
 * number, or -1 without memory. */
static int lively_spells(const struct census *c, int **spell)
{
	int64_t from_us, to_us;
	int n = 0, all = stints_spells(&c->stints, SPELL_MOST_US, -1, &from_us, &to_us);

	*spell = calloc((size_t)all + 1, sizeof **spell);
	if (!*spell)
		return -1;
	for (int k = 0; k < all; k++) {
		stints_spells(&c->stints, SPELL_MOST_US, k, &from_us, &to_us);
		if (lively(c, from_us, to_us))
			(*spell)[n++] = k;
	}
	return n;
}

int repertoire_create(struct repertoire *r, const struct census *c)
{
	int *spell = NULL, spells = lively_spells(c, &spell), result = -1;

	*r = (struct repertoire){ 0 };
	if (spells < 0)
		return -1;
	for (; r->draws < FORECAST_DRAWS; r->draws++) {
		int64_t from_us = c->start_us, to_us = c->end_us;
		if (spells > 0 && to_us - from_us > SPELL_MOST_US)
			stints_spells(&c->stints, SPELL_MOST_US,
				      spell[r->draws * spells / FORECAST_DRAWS], &from_us, &to_us);
		if (script_draw_part(c, from_us, to_us, (uint64_t)r->draws + 1,
				     &r->draw[r->draws]) < 0)
			goto out;
		r->draw[r->draws].lines = c->channels + 1;
	}
	result = 0;
out:
	free(spell);
	if (result < 0)
		repertoire_free(r);
	return result;
}

void repertoire_free(struct repertoire *r)
{
	for (int i = 0; i < r->draws; i++)
		script_free(&r->draw[i]);
	*r = (struct repertoire){ 0 };
}

static struct seat seat_of(const struct memory *m, const struct census *c)
{
	return (struct seat){ m->channel >= 0 ? m->channel : c->channels,
			      1e-6 * (double)m->delay_us };
}

/* The seats of what is scanned in those banks; memory_of[seat] is their place in the plan. The
 * priority memory is looked at also when its bank is off: it then has the seat behind them. */
static int seat_all(const struct plan *p, const struct census *c, uint64_t banks, struct seat *seat,
		    int *memory_of, int *priority)
{
	const struct memory *prior = NULL;
	int n = 0;

	*priority = -1;
	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		bool on = !m->locked && banks >> (m->bank - 1) & 1;
		if (m->priority) {
			prior = m;
			*priority = on ? n : -1;
		}
		if (!on)
			continue;
		memory_of[n] = i;
		seat[n++] = seat_of(m, c);
	}
	if (prior && *priority < 0) {
		*priority = n;
		seat[n] = seat_of(prior, c);
	}
	return n;
}

void part_add(struct part *to, const struct part *more)
{
	to->overs += more->overs;
	to->heard += more->heard;
	to->replies += more->replies;
	to->replied += more->replied;
	to->exchanges += more->exchanges;
	to->met += more->met;
	to->air_s += more->air_s;
	to->heard_s += more->heard_s;
	to->late_s += more->late_s;
	to->cut += more->cut;
	to->held_s += more->held_s;
}

/* Share of overs heard, the mean of memories by weight. */
static double worth(const struct plan *p, const struct stage *g, const int *memory_of,
		    const struct part *line)
{
	double got = 0, of = 0;

	for (int s = 0; s < g->seats; s++) {
		const struct part *part = &line[g->seat[s].line];
		double weight = p->memory[memory_of[s]].weight;
		if (part->overs == 0)
			continue;
		got += weight * part->heard / part->overs;
		of += weight;
	}
	return of > 0 ? got / of : 0;
}

/* A line counts once however many seats it has. */
static void sum_seats(const struct plan *p, const struct stage *g, const int *memory_of,
		      const struct part *line, struct forecast *out)
{
	for (int s = 0; s < g->seats; s++) {
		bool again = false;
		for (int k = 0; k < s && !again; k++)
			again = g->seat[k].line == g->seat[s].line;
		if (again)
			continue;
		part_add(&out->all, &line[g->seat[s].line]);
		if (layout_urgent(&p->memory[memory_of[s]]))
			part_add(&out->urgent, &line[g->seat[s].line]);
	}
}

int forecast_lines(const struct plan *p, const struct census *c, const struct receiver *r,
		   const struct repertoire *on, uint64_t banks, struct forecast *out,
		   struct part *line)
{
	struct seat *seat = calloc((size_t)p->memories + 1, sizeof *seat);
	int *memory_of = calloc((size_t)p->memories + 1, sizeof *memory_of);
	struct stage g = { .seat = seat, .look_s = 1 / r->scan_rate, .priority_s = r->priority_s };
	double squares = 0;
	int result = -1;

	*out = (struct forecast){ 0 };
	if (!seat || !memory_of)
		goto out;
	g.seats = seat_all(p, c, banks, seat, memory_of, &g.priority);
	if (g.seats == 0)
		goto out;
	for (int d = 0; d < on->draws; d++, line += c->channels + 1) {
		memset(line, 0, ((size_t)c->channels + 1) * sizeof *line);
		if (rehearse(&on->draw[d], &g, 0.37 * d, line) < 0)
			goto out;
		sum_seats(p, &g, memory_of, line, out);
		double value = worth(p, &g, memory_of, line);
		out->seconds += on->draw[d].seconds;
		out->value += value / on->draws;
		squares += value * value / on->draws;
	}
	out->value_sd = sqrt(fmax(0, squares - out->value * out->value));
	result = 0;
out:
	free(seat);
	free(memory_of);
	return result;
}

int forecast(const struct plan *p, const struct census *c, const struct receiver *r,
	     const struct repertoire *on, uint64_t banks, struct forecast *out)
{
	struct part *line = calloc((size_t)on->draws * ((size_t)c->channels + 1) + 1, sizeof *line);
	int result = line ? forecast_lines(p, c, r, on, banks, out, line) : -1;

	if (!line)
		*out = (struct forecast){ 0 };
	free(line);
	return result;
}

static double share(int part, int of)
{
	return of > 0 ? (double)part / of : 0;
}

/* What is scanned in the set, each channel once; how many. */
static int wanted(const struct plan *p, uint64_t banks, struct candidate *c)
{
	int n = 0;

	for (int i = 0; i < p->memories; i++) {
		const struct memory *m = &p->memory[i];
		bool again = m->locked || m->channel < 0 || !(banks >> (m->bank - 1) & 1);
		for (int k = 0; k < n && !again; k++)
			again = c[k].line == m->channel;
		if (!again)
			c[n++] = (struct candidate){ .line = m->channel, .weight = m->weight,
				.delay_s = 1e-6 * (double)m->delay_us, .must = true };
	}
	return n;
}

/* By weight: what is heard of what is wanted, as line has it draw by draw, and what no receiver passes. */
static int weigh(const struct plan *p, const struct census *c, const struct receiver *r,
		 const struct repertoire *on, const struct part *line, struct bankset *s)
{
	struct candidate *of = calloc((size_t)p->memories + 1, sizeof *of);
	const struct tryout t = { on->draw, on->draws, 1 / r->scan_rate };
	double got = 0, all = 0;

	if (!of)
		return -1;
	int n = wanted(p, s->banks, of);
	for (int i = 0; i < n; i++) {
		struct part sum = { 0 };
		for (int d = 0; d < on->draws; d++)
			part_add(&sum, &line[d * (c->channels + 1) + of[i].line]);
		got += of[i].weight * (sum.air_s > 0 ? sum.heard_s / sum.air_s : 1);
		all += of[i].weight;
	}
	s->worth = all > 0 ? got / all : 1;
	s->bound = together_bound(&t, of, n);
	free(of);
	return s->bound < 0 ? -1 : 0;
}

int forecast_sets(struct plan *p, const struct census *c, const struct receiver *r,
		  const struct repertoire *on)
{
	struct part *line = calloc((size_t)on->draws * ((size_t)c->channels + 1) + 1, sizeof *line);
	struct forecast f;
	int result = line ? 0 : -1;

	for (int i = 0; i < p->sets && result == 0; i++) {
		struct bankset *s = &p->set[i];
		if (forecast_lines(p, c, r, on, s->banks, &f, line) < 0 ||
		    weigh(p, c, r, on, line, s) < 0)
			result = -1;
		s->overs = f.all.overs / on->draws;
		s->heard = share(f.all.heard, f.all.overs);
		s->met = share(f.all.met, f.all.exchanges);
		s->urgent = f.urgent.overs > 0 ? share(f.urgent.heard, f.urgent.overs) : -1;
		s->held = f.seconds > 0 ? f.all.held_s / f.seconds : 0;
		s->late_s = f.all.heard > 0 ? f.all.late_s / f.all.heard : 0;
	}
	free(line);
	return result;
}
