#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/cues.h"
#include "tests/noise.h"

#define SEED  20261126
#define LINES 6

/* ---- by hand ---- */

struct hand {
	const char  *why;
	struct cue   cue[4];            /* off_s 0 ends them */
	double       delay_s;
	int          priority;
	struct part  want[2];
};

/* Two seats, a look a second: seat 0 at even seconds, seat 1 at odd ones, until a stop. */
static const struct hand hands[] = {
	{ "met on the next round, the front is lost", { { 10.5, 15, 0, false } }, 0, -1,
	  { { .overs = 1, .heard = 1, .exchanges = 1, .met = 1, .air_s = 4.5, .heard_s = 3,
	      .late_s = 1.5, .held_s = 3 } } },
	{ "over before its seat comes round", { { 10.5, 11.75, 0, false } }, 0, -1,
	  { { .overs = 1, .exchanges = 1, .air_s = 1.25 } } },
	{ "what begins and ends while the receiver stands elsewhere is missed",
	  { { 10, 20, 0, false }, { 12, 15, 1, false } }, 2, -1,
	  { { .overs = 1, .heard = 1, .exchanges = 1, .met = 1, .air_s = 10, .heard_s = 10, .held_s = 12 },
	    { .overs = 1, .exchanges = 1, .air_s = 3 } } },
	{ "a reply within the delay is heard from its first word",
	  { { 10, 12, 0, false }, { 13.5, 16, 0, true } }, 2, -1,
	  { { .overs = 2, .heard = 2, .replies = 1, .replied = 1, .exchanges = 1, .met = 1, .air_s = 4.5,
	      .heard_s = 4.5, .held_s = 8 } } },
	{ "without a delay the receiver goes on, and is late for the reply",
	  { { 10, 12, 0, false }, { 13.5, 16, 0, true } }, 0, -1,
	  { { .overs = 2, .heard = 2, .replies = 1, .replied = 1, .exchanges = 1, .met = 1, .air_s = 4.5,
	      .heard_s = 3, .late_s = 1.5, .held_s = 3 } } },
	{ "a reply to what was missed is no reply that could be heard",
	  { { 10.5, 11.75, 0, false }, { 13.5, 16, 0, true } }, 0, -1,
	  { { .overs = 2, .heard = 1, .exchanges = 1, .met = 1, .air_s = 3.75, .heard_s = 2, .late_s = 0.5,
	      .held_s = 2 } } },
	/* Met at 10, left from 16 to 18; the look aside at 24 takes a second. */
	{ "the priority seat cuts in, and the rest of the over is heard after it",
	  { { 10, 30, 0, false }, { 13, 18, 1, false } }, 0, 1,
	  { { .overs = 1, .heard = 1, .exchanges = 1, .met = 1, .air_s = 20, .heard_s = 17, .cut = 1,
	      .held_s = 17 },
	    { .overs = 1, .heard = 1, .exchanges = 1, .met = 1, .air_s = 5, .heard_s = 2, .late_s = 3,
	      .held_s = 2 } } },
	{ "what never ends holds the receiver to the end",
	  { { 10, 99, 0, false }, { 50, 60, 1, false } }, 4, -1,
	  { { .overs = 1, .heard = 1, .exchanges = 1, .met = 1, .air_s = 89, .heard_s = 89, .held_s = 93 },
	    { .overs = 1, .exchanges = 1, .air_s = 10 } } },
};

static void same_part(const char *why, int line, const struct part *got, const struct part *want)
{
#define SAME(member, is, format) \
	if (!(is)) \
		fail_msg("%s: line %d " #member " " format ", want " format, why, line, got->member, \
			 want->member)
#define WHOLE(member) SAME(member, got->member == want->member, "%d")
#define SECONDS(member) SAME(member, fabs(got->member - want->member) < 1e-9, "%.4f")
	WHOLE(overs); WHOLE(heard); WHOLE(replies); WHOLE(replied); WHOLE(exchanges); WHOLE(met); WHOLE(cut);
	SECONDS(air_s); SECONDS(heard_s); SECONDS(late_s); SECONDS(held_s);
}

static void played_by_hand(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof hands / sizeof hands[0]; i++) {
		const struct hand *h = &hands[i];
		struct cue cue[4];
		struct script script = { cue, 0, 2, 100 };
		struct part got[2] = { 0 };
		memcpy(cue, h->cue, sizeof cue);
		while (script.cues < 4 && cue[script.cues].off_s > 0)
			script.cues++;
		struct seat seats[2] = { { 0, h->delay_s }, { 1, h->delay_s } };
		/* Looks aside, where there are any, at 0, 8, 16 ... */
		struct stage stage = { seats, 2, 1, h->priority, 8 };
		assert_int_equal(rehearse(&script, &stage, 0, got), 0);
		for (int l = 0; l < 2; l++)
			same_part(h->why, l, &got[l], &h->want[l]);
	}
}

/* ---- against a receiver written plainly ---- */

struct plain {
	const struct script *script;
	const struct stage  *stage;
	struct part         *part;
	double               t, priority_t;
	double              *heard_s;
};

static int on_at(const struct plain *p, int line, double t)
{
	for (int i = 0; i < p->script->cues; i++)
		if (p->script->cue[i].line == line && p->script->cue[i].on_s <= t && t < p->script->cue[i].off_s)
			return i;
	return -1;
}

/* Tick by tick on a seat, from one over to the next, until the delay is over. */
static void plain_hold(struct plain *p, int seat, double tick)
{
	const struct seat *s = &p->stage->seat[seat];
	double idle = 0;

	while (idle < s->delay_s || on_at(p, s->line, p->t) >= 0) {
		int i = on_at(p, s->line, p->t);
		if (seat != p->stage->priority && p->t >= p->priority_t) {
			p->priority_t += p->stage->priority_s;
			if (on_at(p, p->stage->seat[p->stage->priority].line, p->t) >= 0) {
				p->part[s->line].cut += i >= 0;
				plain_hold(p, p->stage->priority, tick);
				while (p->priority_t < p->t)
					p->priority_t += p->stage->priority_s;
				if (on_at(p, s->line, p->t) < 0)
					return;
				idle = 0;
			} else {
				p->t += p->stage->look_s;
				while (p->priority_t < p->t)
					p->priority_t += p->stage->priority_s;
				if (i < 0)
					idle += p->stage->look_s;
			}
			continue;
		}
		if (i >= 0) {
			if (p->heard_s[i] == 0)
				p->part[s->line].late_s += p->t - p->script->cue[i].on_s;
			p->heard_s[i] += tick;
		}
		idle = i >= 0 ? 0 : idle + tick;
		p->part[s->line].held_s += tick;
		p->t += tick;
	}
}

static void plain_rehearse(struct plain *p, double tick)
{
	const struct stage *g = p->stage;

	for (int at = 0; p->t < p->script->seconds;) {
		if (p->t >= p->priority_t) {
			p->priority_t += g->priority_s;
			if (on_at(p, g->seat[g->priority].line, p->t) >= 0)
				plain_hold(p, g->priority, tick);
			else
				p->t += g->look_s;
			while (p->priority_t < p->t)
				p->priority_t += g->priority_s;
			continue;
		}
		if (on_at(p, g->seat[at].line, p->t) >= 0)
			plain_hold(p, at, tick);
		else
			p->t += g->look_s;
		at = (at + 1) % g->seats;
	}
}

/* Exchanges at random on every line; times in 1/64 s, which floats hold exactly. */
static int random_cues(struct noise *r, struct cue *cue, int room, double seconds)
{
	int n = 0;

	for (int line = 0; line < LINES; line++) {
		double t = 0;
		for (int e = 0; n < room; e++) {
			t += (double)noise_between(r, 1, e % 3 ? 128 : 2000) / 64;
			double off = t + (double)noise_between(r, 1, 400) / 64;
			if (off > seconds)
				break;
			cue[n++] = (struct cue){ t, off, line, e % 3 != 0 };
			t = off;
		}
	}
	qsort(cue, (size_t)n, sizeof *cue, cues_by_on);
	return n;
}

static void against_a_plain_one(void **state)
{
	struct noise r = { SEED };

	(void)state;
	for (int trial = 0; trial < 60; trial++) {
		struct cue cue[400];
		double heard_s[400] = { 0 };
		struct part got[LINES] = { 0 }, want[LINES] = { 0 };
		struct seat seats[LINES + 1];
		int n = (int)noise_between(&r, 1, LINES + 1);
		struct script script = { cue, random_cues(&r, cue, 400, 300), LINES, 300 };
		/* Some lines have no seat, and one may have two. */
		for (int s = 0; s < n; s++)
			seats[s] = (struct seat){ (int)noise_between(&r, 0, LINES - 1),
						  (double)noise_between(&r, 0, 4) };
		struct stage stage = { seats, n, 1 / 16.0, trial % 2 ? -1 : (int)noise_between(&r, 0, n - 1), 2 };
		struct plain p = { .script = &script, .stage = &stage, .part = want, .heard_s = heard_s,
			.priority_t = stage.priority < 0 ? INFINITY : 0 };
		plain_rehearse(&p, 1 / 64.0);
		assert_int_equal(rehearse(&script, &stage, 0, got), 0);
		for (int l = 0; l < LINES; l++) {
			char why[64];
			snprintf(why, sizeof why, "trial %d, seed %d", trial, SEED);
			want[l].overs = got[l].overs, want[l].exchanges = got[l].exchanges;
			want[l].met = got[l].met, want[l].replies = got[l].replies, want[l].replied = got[l].replied;
			want[l].air_s = got[l].air_s;
			for (int i = 0; i < script.cues; i++)
				if (cue[i].line == l) {
					want[l].heard += heard_s[i] > 0;
					want[l].heard_s += heard_s[i];
				}
			same_part(why, l, &got[l], &want[l]);
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(played_by_hand),
		cmocka_unit_test(against_a_plain_one),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
