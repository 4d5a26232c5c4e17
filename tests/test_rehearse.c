#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/noise.h"
#include "tools/plan/rehearse.h"

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

static int by_on(const void *a, const void *b)
{
	const struct cue *x = a, *y = b;

	return (x->on_s > y->on_s) - (x->on_s < y->on_s);
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
	qsort(cue, (size_t)n, sizeof *cue, by_on);
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

/* ---- against formulas and figures from elsewhere ---- */

struct town {
	int    lines;
	double load;                    /* share of the time that overs take, all lines together */
	double over_s, gap_s, overs;    /* mean over, gap, and overs of an exchange; exponential  */
	bool   fixed;                   /* overs all of that length                               */
};

#define AIR_S    200000.0
#define CUES_MAX 60000

static double random_s(struct noise *r, double mean)
{
	return -mean * log(1 - noise_uniform(r));
}

static struct script on_air(struct noise *r, const struct town *t)
{
	struct script s = { malloc(CUES_MAX * sizeof *s.cue), 0, t->lines, AIR_S };
	double every_s = t->lines * t->over_s * t->overs / t->load;

	assert_non_null(s.cue);
	for (int line = 0; line < t->lines; line++)
		for (double at = random_s(r, every_s); at < AIR_S; at += random_s(r, every_s)) {
			bool reply = false;
			do {
				double off = at + (t->fixed ? t->over_s : random_s(r, t->over_s));
				assert_true(s.cues < CUES_MAX);
				s.cue[s.cues++] = (struct cue){ at, off, line, reply };
				at = off + random_s(r, t->gap_s);
				reply = true;
			} while (noise_uniform(r) < 1 - 1 / t->overs && at < AIR_S);
		}
	qsort(s.cue, (size_t)s.cues, sizeof *s.cue, by_on);
	return s;
}

/* All lines scanned, all played together. */
static struct part play(const struct script *s, double rate, double delay_s, int priority, int idle)
{
	int seats_n = s->lines + idle;
	struct seat *seats = calloc((size_t)seats_n, sizeof *seats);
	struct part *part = calloc((size_t)s->lines + 1, sizeof *part), all = { 0 };
	struct script with = *s;

	assert_true(seats && part);
	with.lines = s->lines + 1;      /* the last one is never on */
	for (int i = 0; i < seats_n; i++)
		seats[i] = (struct seat){ i < s->lines ? i : s->lines, delay_s };
	const struct stage stage = { seats, seats_n, 1 / rate, priority, 2 };
	assert_int_equal(rehearse(&with, &stage, 0, part), 0);
	for (int i = 0; i < s->lines; i++) {
		all.overs += part[i].overs;
		all.heard += part[i].heard;
		all.replies += part[i].replies;
		all.replied += part[i].replied;
		all.exchanges += part[i].exchanges;
		all.met += part[i].met;
		all.late_s += part[i].late_s;
	}
	free(seats);
	free(part);
	return all;
}

/* A single line, hardly ever on, among seats where nothing is: an over of length L is met with
 * min(1, L/C), of exponential length with (L/C)(1 - exp(-C/L)), where C is once round (uniform
 * phase; worked out by hand). Four standard deviations of the count. */
static void idle_catch(void **state)
{
	static const struct { double over_s; bool fixed; int idle; } cases[] = {
		{ 2, true, 99 }, { 4, true, 199 }, { 3, false, 49 }, { 4, false, 399 }, { 1, false, 19 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct noise r = { SEED + i };
		struct town t = { 1, 0.02, cases[i].over_s, 1, 1, cases[i].fixed };
		struct script s = on_air(&r, &t);
		struct part got = play(&s, 25, 0, -1, cases[i].idle);
		double c = (cases[i].idle + 1) / 25.0, l = cases[i].over_s;
		double want = cases[i].fixed ? fmin(1, l / c) : l / c * (1 - exp(-c / l));
		double share = (double)got.heard / got.overs, sd = sqrt(want * (1 - want) / got.overs);
		if (fabs(share - want) > 4 * sd + 0.01)
			fail_msg("overs of %g s, once round %g s: %.3f heard, want %.3f +- %.3f (seed %d)", l, c,
				 share, want, 4 * sd + 0.01, SEED + (int)i);
		free(s.cue);
	}
}

/* Looked at every 2 s wherever the receiver stands: single overs of 4 s, exponential, are met
 * with (L/2)(1 - exp(-2/L)) = 0.787. */
static void priority_catch(void **state)
{
	struct noise r = { SEED };
	struct town t = { 1, 0.02, 4, 1, 1, false };
	struct script s = on_air(&r, &t);
	struct part got = play(&s, 25, 0, 0, 4000);

	(void)state;
	assert_true(got.overs > 800);
	if (fabs((double)got.heard / got.overs - 0.787) > 0.055)
		fail_msg("%d of %d (seed %d)", got.heard, got.overs, SEED);
	free(s.cue);
}

/* Met at a random moment of the round, an over of length L loses min(C, L) / 2 of its front in the
 * mean: it was on for a uniform time up to the lesser of both (worked out by hand). Within 5 %. */
static void front_that_is_lost(void **state)
{
	static const struct { double over_s; int idle; } cases[] = { { 4, 49 }, { 3, 199 }, { 8, 24 } };

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct noise r = { SEED + i };
		struct town t = { 1, 0.05, cases[i].over_s, 1, 1, true };
		struct script s = on_air(&r, &t);
		struct part got = play(&s, 25, 0, -1, cases[i].idle);
		double want = fmin((cases[i].idle + 1) / 25.0, cases[i].over_s) / 2, late = got.late_s / got.heard;
		if (fabs(late / want - 1) > 0.05)
			fail_msg("overs of %g s: %.3f s late, want %.3f (seed %d)", cases[i].over_s, late, want, SEED + (int)i);
		free(s.cue);
	}
}

/* Where the round is too long to come back, a reply to what was heard is heard with 1 - exp(-D/G), the
 * chance that a pause of mean G is over before the delay D is. Four deviations of the count. */
static void replies_within_the_delay(void **state)
{
	static const double delays[] = { 0.5, 2, 4 };

	(void)state;
	for (size_t i = 0; i < sizeof delays / sizeof delays[0]; i++) {
		struct noise r = { SEED + i };
		struct town t = { 1, 0.5, 4, 2, 4, false };
		struct script s = on_air(&r, &t);
		struct part got = play(&s, 25, delays[i], -1, 2000);
		double want = 1 - exp(-delays[i] / 2), share = (double)got.replied / got.replies;
		assert_true(got.replies > 300);
		/* Some come back in time for a long one. */
		double sd = sqrt(want * (1 - want) / got.replies);
		if (share < want - 4 * sd || share > want + 4 * sd + 0.02)
			fail_msg("delay %g s: %.3f of %d, want %.3f +- %.3f (seed %d)", delays[i], share, got.replies, want,
				 4 * sd, SEED + (int)i);
		free(s.cue);
	}
}

/* A channel alone takes lambda (1-g) (S + D) of the receiver's time: overs linked by the delay with
 * g = (1 - 1/m)(1 - exp(-D/G)) make runs that last S = (L + g b)/(1 - g), b the mean pause of those
 * shorter than D (the trade's chatter index, worked out by renewal). Within 3 %. */
static void chatter_of_a_channel_alone(void **state)
{
	static const struct { double load, delay_s; } cases[] = { { 0.02, 2 }, { 0.1, 4 }, { 0.05, 0.5 } };
	const double over_s = 4, gap_s = 2, m = 4;

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct noise r = { SEED + i };
		struct town t = { 1, cases[i].load, over_s, gap_s, m, false };
		struct script s = on_air(&r, &t);
		struct seat seat = { 0, cases[i].delay_s };
		const struct stage alone = { &seat, 1, 0.001, -1, 2 };
		struct part got[1] = { 0 };
		assert_int_equal(rehearse(&s, &alone, 0, got), 0);
		double d = cases[i].delay_s, e = exp(-d / gap_s), g = (1 - 1 / m) * (1 - e);
		double b = gap_s - d * e / (1 - e), run_s = (got->air_s / got->overs + g * b) / (1 - g);
		double want = got->overs / AIR_S * (1 - g) * (run_s + d), share = got->held_s / AIR_S;
		if (fabs(share / want - 1) > 0.03)
			fail_msg("load %g, delay %g s: held %.4f, want %.4f (seed %d)", cases[i].load, d, share, want,
				 SEED + (int)i);
		free(s.cue);
	}
}

/* Per cent of overs heard, of replies heard given the over before, and of exchanges met, on
 * identical lines with overs of 4 s, gaps of 2 s, four overs an exchange; from another event
 * simulation of 200,000 s, worked out when the trade's rules were gathered. */
static void against_another_simulation(void **state)
{
	static const struct { int lines; double rate, delay_s, load; int heard, replied, met; } rows[] = {
		{ 20, 25, 0, 0.11, 85, 87, 95 }, { 20, 25, 2, 0.11, 88, 94, 93 }, { 20, 25, 4, 0.11, 88, 98, 90 },
		{ 40, 25, 0, 0.27, 72, 74, 91 }, { 40, 25, 2, 0.27, 76, 89, 86 }, { 40, 25, 4, 0.27, 77, 96, 81 },
		{ 40, 25, 0, 0.89, 56, 60, 82 }, { 40, 25, 2, 0.89, 53, 81, 69 }, { 40, 25, 4, 0.89, 51, 92, 58 },
		{ 40, 13, 2, 0.89, 49, -1, -1 },
		{ 100, 25, 0, 0.67, 46, 42, 78 }, { 100, 25, 2, 0.67, 51, 77, 68 }, { 100, 25, 4, 0.67, 52, 91, 59 },
		{ 400, 25, 0, 0.44, 21, 3, 57 }, { 400, 25, 2, 0.44, 31, 64, 53 }, { 400, 25, 4, 0.44, 39, 87, 49 },
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct noise r = { SEED + i };
		struct town t = { rows[i].lines, rows[i].load, 4, 2, 4, false };
		struct script s = on_air(&r, &t);
		struct part p = play(&s, rows[i].rate, rows[i].delay_s, -1, 0);
		double got[] = { 100.0 * p.heard / p.overs, 100.0 * p.replied / p.replies,
				 100.0 * p.met / p.exchanges };
		int want[] = { rows[i].heard, rows[i].replied, rows[i].met };
		for (int k = 0; k < 3; k++)
			if (want[k] >= 0 && fabs(got[k] - want[k]) > 3)
				fail_msg("%d lines at %g/s, delay %g s, load %g: figure %d is %.1f, want %d (seed %d)",
					 rows[i].lines, rows[i].rate, rows[i].delay_s, rows[i].load, k, got[k],
					 want[k], SEED + (int)i);
		free(s.cue);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(played_by_hand),
		cmocka_unit_test(against_a_plain_one),
		cmocka_unit_test(idle_catch),
		cmocka_unit_test(priority_catch),
		cmocka_unit_test(front_that_is_lost),
		cmocka_unit_test(replies_within_the_delay),
		cmocka_unit_test(chatter_of_a_channel_alone),
		cmocka_unit_test(against_another_simulation),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
