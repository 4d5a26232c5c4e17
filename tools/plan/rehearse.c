#include "tools/plan/rehearse.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

/* Whole numbers listed by line: at[first[l]] .. before at[first[l + 1]]. */
struct listing {
	int *first, *at;
};

/* The performance under way. */
struct player {
	const struct script *script;
	const struct stage  *stage;
	struct part         *part;
	double         t;               /* the next look is made now                      */
	int            seat;            /* at this seat                                   */
	int            next;            /* cues before this one have been put in active   */
	struct listing cues, seats;     /* of each line                                   */
	int           *cursor;          /* by line, into cues.at: the first not over yet  */
	int           *active;          /* cues of lines with a seat that may be on       */
	int            actives;
	double        *heard_s;         /* of each cue                                    */
	double         priority_t;      /* of the next look at the priority seat          */
};

/* Lists 0 .. n-1 by the line of each, in order; -1: no memory. */
static int list_by_line(struct listing *l, int n, int lines, int (*line_of)(const void *, int),
			const void *self)
{
	l->first = calloc((size_t)lines + 2, sizeof *l->first);
	l->at = calloc((size_t)n + 1, sizeof *l->at);
	if (!l->first || !l->at)
		return -1;
	for (int i = 0; i < n; i++)
		l->first[line_of(self, i) + 2]++;
	for (int i = 2; i <= lines + 1; i++)
		l->first[i] += l->first[i - 1];
	for (int i = 0; i < n; i++)
		l->at[l->first[line_of(self, i) + 1]++] = i;
	return 0;
}

static int line_of_cue(const void *self, int i)
{
	return ((const struct script *)self)->cue[i].line;
}

static int line_of_seat(const void *self, int i)
{
	return ((const struct stage *)self)->seat[i].line;
}

/* The cue of the line that is on at p->t, or the one to come; NULL: no more. */
static const struct cue *cue_now(struct player *p, int line)
{
	const struct cue *cue = p->script->cue;
	int *at = &p->cursor[line], end = p->cues.first[line + 1];

	while (*at < end && cue[p->cues.at[*at]].off_s <= p->t)
		(*at)++;
	return *at < end ? &cue[p->cues.at[*at]] : NULL;
}

static bool is_on(const struct player *p, const struct cue *c)
{
	return c && c->on_s <= p->t;
}

static void hear(struct player *p, const struct cue *c, double until)
{
	double *heard = &p->heard_s[c - p->script->cue];

	if (*heard == 0)
		p->part[c->line].late_s += p->t - c->on_s;
	*heard += until - p->t;
}

static void hold(struct player *p, int seat);

/* Makes the look at the priority seat that is due; whether something was on. */
static bool look_aside(struct player *p)
{
	const struct stage *g = p->stage;
	bool on = is_on(p, cue_now(p, g->seat[g->priority].line));

	p->priority_t += g->priority_s;
	if (!on)
		p->t += g->look_s;
	else
		hold(p, g->priority);
	while (p->priority_t < p->t)
		p->priority_t += g->priority_s;
	return on;
}

/* On a seat until then; c: what is heard meanwhile, or NULL. Whether nothing came between. */
static bool stay(struct player *p, int seat, const struct cue *c, double until)
{
	struct part *of = &p->part[p->stage->seat[seat].line];
	bool alone = seat == p->stage->priority;

	while (p->t < until) {
		double stop = alone ? until : fmin(until, p->priority_t);
		if (stop > p->t) {
			if (c)
				hear(p, c, stop);
			of->held_s += stop - p->t;
			p->t = stop;
		}
		if (p->t < until && look_aside(p)) {
			of->cut += c != NULL;
			return false;
		}
	}
	return true;
}

/* Through the over that is on at the seat and all that follow within its delay. */
static void hold(struct player *p, int seat)
{
	int line = p->stage->seat[seat].line;
	const struct cue *c = cue_now(p, line);

	while (is_on(p, c)) {
		bool whole = stay(p, seat, c, c->off_s);
		c = cue_now(p, line);
		if (is_on(p, c))
			continue;       /* back after a look aside, or one over upon another */
		if (!whole)
			return;
		double leave = p->t + p->stage->seat[seat].delay_s;
		stay(p, seat, NULL, c ? fmin(leave, c->on_s) : leave);
		c = cue_now(p, line);
	}
}

/* What has begun is put in active, what is over taken out. */
static void refresh(struct player *p)
{
	const struct script *s = p->script;
	int kept = 0;

	for (; p->next < s->cues && s->cue[p->next].on_s <= p->t; p->next++) {
		int line = s->cue[p->next].line;
		if (p->seats.first[line] < p->seats.first[line + 1])
			p->active[p->actives++] = p->next;
	}
	for (int i = 0; i < p->actives; i++)
		if (s->cue[p->active[i]].off_s > p->t)
			p->active[kept++] = p->active[i];
	p->actives = kept;
}

/* The seat the scan will stop at if nothing more begins, and how many looks on; -1: none. */
static int first_hit(const struct player *p, int *looks)
{
	int best = -1, n = p->stage->seats;

	for (int i = 0; i < p->actives; i++) {
		const struct cue *c = &p->script->cue[p->active[i]];
		for (int k = p->seats.first[c->line]; k < p->seats.first[c->line + 1]; k++) {
			int seat = p->seats.at[k], on = (seat - p->seat + n) % n;
			if (p->t + on * p->stage->look_s < c->off_s && (best < 0 || on < *looks)) {
				best = seat;
				*looks = on;
			}
		}
	}
	return best;
}

/* Scans until something is met, or may be, or the priority seat is due. */
static void scan(struct player *p)
{
	const struct stage *g = p->stage;
	int looks = 0, seat;

	refresh(p);
	seat = first_hit(p, &looks);
	double event = fmin(p->priority_t, p->script->seconds);
	if (p->next < p->script->cues)
		event = fmin(event, p->script->cue[p->next].on_s);
	if (seat >= 0 && p->t + looks * g->look_s <= event) {
		p->t += looks * g->look_s;
		hold(p, seat);
		p->seat = (seat + 1) % g->seats;
		return;
	}
	double on = fmax(0, ceil((event - p->t) / g->look_s));
	p->seat = (int)((p->seat + (int64_t)on) % g->seats);
	p->t += on * g->look_s;
	if (p->t >= p->priority_t)
		look_aside(p);
}

/* What became of each line, from what was heard of each cue. */
static void sum_up(const struct player *p)
{
	for (int line = 0; line < p->script->lines; line++) {
		struct part *of = &p->part[line];
		bool before = false, met = false;
		for (int k = p->cues.first[line]; k < p->cues.first[line + 1]; k++) {
			const struct cue *c = &p->script->cue[p->cues.at[k]];
			double heard_s = p->heard_s[p->cues.at[k]];
			bool heard = heard_s > 0;
			if (!c->reply)
				met = false;
			of->overs++;
			of->heard += heard;
			of->replies += c->reply && before;
			of->replied += c->reply && before && heard;
			of->exchanges += !c->reply;
			of->met += heard && !met;
			of->air_s += c->off_s - c->on_s;
			of->heard_s += heard_s;
			met |= heard;
			before = heard;
		}
	}
}

int rehearse(const struct script *script, const struct stage *stage, double start_s,
	     struct part *part)
{
	struct player p = {
		.script = script, .stage = stage, .part = part,
		.seat = (int)fmod(start_s / stage->look_s, stage->seats),
		.priority_t = stage->priority < 0 ? INFINITY : fmod(start_s, stage->priority_s),
	};
	int result = -1;

	p.cursor = calloc((size_t)script->lines + 1, sizeof *p.cursor);
	p.active = calloc((size_t)script->cues + 1, sizeof *p.active);
	p.heard_s = calloc((size_t)script->cues + 1, sizeof *p.heard_s);
	if (!p.cursor || !p.active || !p.heard_s ||
	    list_by_line(&p.cues, script->cues, script->lines, line_of_cue, script) < 0 ||
	    list_by_line(&p.seats, stage->seats, script->lines, line_of_seat, stage) < 0)
		goto out;
	for (int line = 0; line < script->lines; line++)
		p.cursor[line] = p.cues.first[line];
	while (p.t < script->seconds)
		scan(&p);
	sum_up(&p);
	result = 0;
out:
	free(p.cursor);
	free(p.active);
	free(p.heard_s);
	free(p.cues.first);
	free(p.cues.at);
	free(p.seats.first);
	free(p.seats.at);
	return result;
}
