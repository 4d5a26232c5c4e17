#include "tests/test.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dsp/dice.h"
#include "tools/plan/draw.h"

#define SEED    20261126
#define LINES   40
#define HOURS   12
#define SECONDS (HOURS * 3600.0)
#define MOST    40000
#define DRAWS   10

/* What a town of so many alike lines says, and what a survey sees of it. */
struct town {
	double over_s, gap_s, overs;    /* means: over, pause, overs in an exchange  */
	double every_s;                 /* from one exchange of a line to the next   */
	double revisit_s;
	int    spell;                   /* looks in a row; 0: no end of them */
	double rest_s;                  /* between two of them               */
	bool   measured;                /* overs and pauses; else nothing is known of them */
};

struct night {
	struct script  truth;
	struct census  census;
	struct channel channel[LINES];
	struct looked  looked;
	struct over    over[MOST];
};

static int by_on(const void *a, const void *b)
{
	const struct cue *x = a, *y = b;

	return (x->on_s > y->on_s) - (x->on_s < y->on_s);
}

static void talk(struct night *n, const struct town *t, uint64_t seed)
{
	double sigma = sqrt(log1p(0.49));

	n->truth = (struct script){ calloc(MOST, sizeof *n->truth.cue), 0, LINES, SECONDS };
	assert_non_null(n->truth.cue);
	for (int line = 0; line < LINES; line++) {
		struct dice d = dice_of(seed, (uint64_t)line);
		for (double at = dice_exponential(&d, t->every_s); at < SECONDS - 60;
		     at += 10 + dice_exponential(&d, t->every_s)) {
			int overs = dice_geometric(&d, t->overs);
			for (int i = 0; i < overs; i++) {
				double s = exp(log(t->over_s) - sigma * sigma / 2 + sigma * dice_normal(&d));
				assert_true(n->truth.cues < MOST);
				n->truth.cue[n->truth.cues++] = (struct cue){ at, at + s, line, i > 0 };
				at += s + TRAFFIC_HANG_S + dice_exponential(&d, t->gap_s - TRAFFIC_HANG_S);
			}
		}
	}
}

static double look_at(const struct town *t, int line, int k)
{
	double spell_s = t->spell ? (t->spell - 1) * t->revisit_s + t->rest_s : t->revisit_s;
	int spell = t->spell ? t->spell : 1;

	/* A phase of its own for every line. */
	return line / 40.0 * t->revisit_s + k / spell * spell_s + k % spell * t->revisit_s;
}

/* Busy looks in a row are an over; a rest ends it, for what was then nobody saw. */
static void survey_line(struct night *n, const struct town *t, int line, int from, int to)
{
	struct channel *ch = &n->channel[line];
	int busy = 0, k = 0, at = from;
	double before = -1, look;
	bool was = false;

	*ch = (struct channel){ .channel = line, .over = n->census.overs };
	if (t->measured)
		ch->traffic.guessed = (struct guessed){ { t->over_s, { t->over_s / 1.4, t->over_s * 1.4 } },
			{ t->gap_s, { t->gap_s / 1.4, t->gap_s * 1.4 } }, 1 - 1 / t->overs };
	for (; (look = look_at(t, line, k)) < SECONDS; k++, before = look) {
		while (at < to && n->truth.cue[at].off_s <= look)
			at++;
		bool on = at < to && n->truth.cue[at].on_s <= look, rest = look - before > 1.5 * t->revisit_s;
		struct over *o = &n->over[n->census.overs];
		if (was && (!on || rest))
			o[-1].after_us = rest ? -1 : (int64_t)((look - before) * 1e6);
		if (on && (!was || rest)) {
			*o = (struct over){ .channel = line, .first_us = (int64_t)(look * 1e6),
				.last_us = (int64_t)(look * 1e6), .after_us = -1, .looks = 1,
				.before_us = before < 0 ? -1 : (int64_t)((look - before) * 1e6) };
			n->census.overs++;
			ch->overs++;
		} else if (on) {
			o[-1].last_us = (int64_t)(look * 1e6);
			o[-1].looks++;
		}
		busy += on;
		was = on;
	}
	ch->occupancy = (double)busy / k;
}

/* Cues still lie line by line. */
static void survey(struct night *n, const struct town *t)
{
	double cycle_s = t->spell ? ((t->spell - 1) * t->revisit_s + t->rest_s) / t->spell : t->revisit_s;
	double work[MOST];

	n->looked = (struct looked){ .revisit_s = cycle_s };
	n->census = (struct census){ .channel = n->channel, .channels = LINES, .over = n->over,
		.looked = &n->looked, .bands = 1, .end_us = (int64_t)(SECONDS * 1e6) };
	for (int line = 0, from = 0, to; line < LINES; line++, from = to) {
		for (to = from; to < n->truth.cues && n->truth.cue[to].line == line; to++)
			;
		survey_line(n, t, line, from, to);
	}
	beat_find(n->over, n->census.overs, cycle_s, work, &n->looked.beat);
}

static struct part play(const struct script *s)
{
	static struct seat seats[LINES];
	struct part part[LINES] = { 0 }, all = { 0 };

	for (int i = 0; i < LINES; i++)
		seats[i] = (struct seat){ i, 2 };
	const struct stage stage = { seats, LINES, 0.04, -1, 2 };
	assert_int_equal(rehearse(s, &stage, 0, part), 0);
	for (int i = 0; i < LINES; i++) {
		all.overs += part[i].overs;
		all.heard += part[i].heard;
		all.exchanges += part[i].exchanges;
		all.met += part[i].met;
		all.air_s += part[i].air_s;
		all.held_s += part[i].held_s;
	}
	return all;
}

/* A rehearsal over what was drawn from the survey foretells the one over the truth, with rests and
 * without: shares within 3 points, times within a tenth; where nothing is known of the overs'
 * length, a quarter. */
static void foretells_the_truth(void **state)
{
	static const struct town towns[] = {
		{ 4, 2, 4, 4000, 2.4, 0, 0, true }, { 2.5, 1.7, 4, 1500, 2.4, 0, 0, true },
		{ 6, 2, 3, 6000, 2.4, 0, 0, true }, { 4, 2, 4, 2000, 5, 0, 0, true },
		{ 3, 2, 1, 1200, 2.4, 0, 0, true }, { 4, 2, 6, 9000, 1, 0, 0, true },
		{ 4, 2, 4, 4000, 2.4, 3, 90, true }, { 2.5, 1.7, 4, 1500, 2.4, 3, 90, true },
		{ 6, 2, 3, 6000, 2.4, 8, 40, true }, { 12, 3, 2, 6000, 2.4, 3, 90, true },
		{ 4, 2, 4, 4000, 2.4, 3, 90, false }, { 4, 2, 4, 4000, 2.4, 0, 0, false },
	};
	struct night *n = calloc(1, sizeof *n);

	(void)state;
	assert_non_null(n);
	for (size_t i = 0; i < sizeof towns / sizeof towns[0]; i++) {
		struct part drawn = { 0 };
		talk(n, &towns[i], SEED + i);
		survey(n, &towns[i]);
		qsort(n->truth.cue, (size_t)n->truth.cues, sizeof *n->truth.cue, by_on);
		struct part truth = play(&n->truth);
		for (int k = 0; k < DRAWS; k++) {
			struct script s;
			assert_int_equal(script_draw(&n->census, SEED + (uint64_t)k, &s), 0);
			struct part p = play(&s);
			drawn.overs += p.overs, drawn.heard += p.heard, drawn.exchanges += p.exchanges;
			drawn.met += p.met, drawn.air_s += p.air_s / DRAWS, drawn.held_s += p.held_s / DRAWS;
			script_free(&s);
		}
		double heard = 100.0 * drawn.heard / drawn.overs, met = 100.0 * drawn.met / drawn.exchanges;
		double want_heard = 100.0 * truth.heard / truth.overs, want_met = 100.0 * truth.met / truth.exchanges;
		print_message("town %zu: overs heard %.1f %% (truth %.1f), exchanges %.1f %% (%.1f), overs %d (%d), "
			      "on the air %.0f s (%.0f), held %.0f s (%.0f)\n", i, heard, want_heard, met, want_met,
			      drawn.overs / DRAWS, truth.overs, drawn.air_s, truth.air_s, drawn.held_s, truth.held_s);
		double off = towns[i].measured ? 0.1 : 0.25;
		if (fabs(heard - want_heard) > 3 || fabs(met - want_met) > 3 ||
		    fabs(drawn.air_s / truth.air_s - 1) > off || fabs(drawn.held_s / truth.held_s - 1) > off)
			fail_msg("town %zu, seed %d", i, SEED + (int)i);
		free(n->truth.cue);
	}
	free(n);
}

static void equal_seeds_draw_equally(void **state)
{
	static const struct town t = { 4, 2, 4, 4000, 2.4, 0, 0, true };
	struct night *n = calloc(1, sizeof *n);
	struct script a, b, c;

	(void)state;
	assert_non_null(n);
	talk(n, &t, SEED);
	survey(n, &t);
	assert_int_equal(script_draw(&n->census, 1, &a), 0);
	assert_int_equal(script_draw(&n->census, 1, &b), 0);
	assert_int_equal(script_draw(&n->census, 2, &c), 0);
	assert_int_equal(a.cues, b.cues);
	for (int i = 0; i < a.cues; i++)
		assert_true(a.cue[i].on_s == b.cue[i].on_s && a.cue[i].off_s == b.cue[i].off_s);
	assert_true(a.cues != c.cues || a.cue[0].on_s != c.cue[0].on_s);
	for (int i = 1; i < a.cues; i++)
		assert_true(a.cue[i].on_s >= a.cue[i - 1].on_s && a.cue[i].off_s > a.cue[i].on_s);
	script_free(&a), script_free(&b), script_free(&c);
	free(n->truth.cue);
	free(n);
}

/* Of two nights the second is drawn as if the first had never been: its overs cost no dice. */
static void a_part_knows_nothing_before_it(void **state)
{
	enum { OVERS = 60 };
	struct over over[OVERS];
	struct looked l = { .revisit_s = 2, .beat = { .every_s = 2, .looks = 1 } };
	struct channel ch = { .overs = OVERS, .occupancy = 0.02 };
	ch.traffic.guessed = (struct guessed){ .over_s = { 5, { 4.5, 5.5 } }, .gap_s = { 2, { 1.8, 2.2 } }, .more = 0.5 };
	struct census c = { .looked = &l, .bands = 1, .channel = &ch, .channels = 1, .over = over, .overs = OVERS,
			    .end_us = 48 * HOUR_US, .wall_us = 8 * HOUR_US };
	struct script both, alone;

	(void)state;
	for (int i = 0; i < OVERS; i++) {
		int64_t at = (i < OVERS / 2 ? 0 : 24 * HOUR_US) + (i % (OVERS / 2)) * INT64_C(400000000) + 1000000;
		over[i] = (struct over){ .first_us = at, .last_us = at + 4000000, .before_us = 2000000, .after_us = 2000000,
					 .looks = 3, .busy_us = 60000 };
	}
	assert_int_equal(script_draw_part(&c, 24 * HOUR_US, 28 * HOUR_US, 7, &both), 0);
	ch.over = OVERS / 2;
	ch.overs = OVERS / 2;
	ch.occupancy = 0.01;            /* as much of it as was in the second night */
	assert_int_equal(script_draw_part(&c, 24 * HOUR_US, 28 * HOUR_US, 7, &alone), 0);
	if (both.cues < OVERS / 2 || both.cues != alone.cues)
		fail_msg("%d cues, alone %d", both.cues, alone.cues);
	for (int i = 0; i < both.cues; i++)
		assert_true(both.cue[i].on_s == alone.cue[i].on_s && both.cue[i].off_s == alone.cue[i].off_s);
	script_free(&both);
	script_free(&alone);
	/* And the first as if no other followed. */
	ch.over = 0;
	ch.overs = OVERS;
	ch.occupancy = 0.02;
	assert_int_equal(script_draw_part(&c, 0, 4 * HOUR_US, 7, &both), 0);
	ch.overs = OVERS / 2;
	ch.occupancy = 0.01;
	assert_int_equal(script_draw_part(&c, 0, 4 * HOUR_US, 7, &alone), 0);
	assert_int_equal(both.cues, alone.cues);
	for (int i = 0; i < both.cues; i++)
		assert_true(both.cue[i].on_s == alone.cue[i].on_s && both.cue[i].off_s == alone.cue[i].off_s);
	script_free(&both);
	script_free(&alone);
}

static bool on_at(const struct script *s, double t)
{
	for (int i = 0; i < s->cues; i++)
		if (s->cue[i].on_s <= t + 1e-6 && s->cue[i].off_s >= t - 1e-6)
			return true;
	return false;
}

/* Looks, 2 s apart from `first` on, at which the over is on. */
static int looks_in(const struct cue *c, double first)
{
	return (int)(floor((c->off_s - first) / 2 + 1e-9) - ceil((c->on_s - first) / 2 - 1e-9)) + 1;
}

/* Ten looks in a row met something, and then one met nothing: whatever overs it is made of, one is on at each of these
 * looks, and none at the next; each is met by one of them, and often two that follow each other by one alone. */
static void every_look_is_true(void **state)
{
	enum { OVERS = 40, LOOKS = 10, SEEDS = 8 };
	struct over over[OVERS];
	struct looked l = { .revisit_s = 2, .beat = { .every_s = 2, .looks = 1 } };
	struct channel ch = { .overs = OVERS, .occupancy = 0.06 };
	ch.traffic.guessed = (struct guessed){ .over_s = { 2.5, { 2.4, 2.6 } }, .gap_s = { 1.2, { 1.1, 1.3 } }, .more = 0.9 };
	struct census c = { .looked = &l, .bands = 1, .channel = &ch, .channels = 1, .over = over, .overs = OVERS,
			    .end_us = 4 * HOUR_US, .wall_us = 4 * HOUR_US };
	int several = 0, short_ones = 0;

	(void)state;
	for (int i = 0; i < OVERS; i++) {
		int64_t at = i * INT64_C(350000000) + 10000000;
		over[i] = (struct over){ .first_us = at, .last_us = at + (LOOKS - 1) * INT64_C(2000000), .before_us = 2000000,
					 .after_us = 2000000, .looks = LOOKS, .busy_us = LOOKS * 20000 };
	}
	for (uint64_t seed = 1; seed <= SEEDS; seed++) {
		struct script s;
		assert_int_equal(script_draw(&c, seed, &s), 0);
		for (int i = 0; i < OVERS; i++) {
			double first = 1e-6 * (double)over[i].first_us;
			for (int k = 0; k < LOOKS; k++)
				if (!on_at(&s, first + 2 * k))
					fail_msg("seed %d, over %d: off at look %d", (int)seed, i, k);
			assert_false(on_at(&s, first - 2));
			assert_false(on_at(&s, first + 2 * LOOKS));
			int parts = 0, last = 0;
			for (int k = 0; k < s.cues; k++) {
				if (s.cue[k].off_s <= first || s.cue[k].on_s >= first + 2 * LOOKS - 2)
					continue;
				int met = looks_in(&s.cue[k], first);
				if (met < 1)
					fail_msg("seed %d, over %d: one from %.2f to %.2f s is met by no look", (int)seed, i,
						 s.cue[k].on_s - first, s.cue[k].off_s - first);
				short_ones += met == 1 && last == 1;
				last = met;
				parts++;
			}
			several += parts > 1;
		}
		script_free(&s);
	}
	print_message("%d of %d made of several\n", several, OVERS * SEEDS);
	print_message("%d times two short ones follow each other\n", short_ones);
	assert_true(several > OVERS * SEEDS / 2 && short_ones > OVERS * SEEDS / 4);
}

/* Most exchanges of one short over fall between looks that come each 20 s: of those that nobody saw as many are made up as
 * chance leaves, and in the clock hour in which others were seen. */
static void unseen_ones_are_in_the_same_hour(void **state)
{
	enum { OVERS = 30, SEEDS = 4 };
	struct over over[OVERS];
	struct looked l = { .revisit_s = 20, .beat = { .every_s = 20, .looks = 1 } };
	struct channel ch = { .overs = OVERS, .occupancy = 0.007 };
	ch.traffic.guessed = (struct guessed){ .over_s = { 3, { 2.9, 3.1 } }, .gap_s = { 2, { 1.9, 2.1 } } };
	struct census c = { .looked = &l, .bands = 1, .channel = &ch, .channels = 1, .over = over, .overs = OVERS,
			    .end_us = 4 * HOUR_US, .wall_us = 4 * HOUR_US };

	(void)state;
	for (int i = 0; i < OVERS; i++) {
		int64_t at = 2 * HOUR_US + i * INT64_C(100000000) + 40000000;
		over[i] = (struct over){ .first_us = at, .last_us = at, .before_us = 20000000, .after_us = 20000000,
					 .looks = 1, .busy_us = 20000 };
	}
	for (uint64_t seed = 1; seed <= SEEDS; seed++) {
		struct script s;
		assert_int_equal(script_draw(&c, seed, &s), 0);
		for (int k = 0; k < s.cues; k++)
			if (s.cue[k].on_s < 2 * 3600 || s.cue[k].on_s > 3 * 3600)
				fail_msg("seed %d: one begins after %.3f h", (int)seed, s.cue[k].on_s / 3600);
		/* A look meets one of 3 s in seven. */
		if (s.cues < 4 * OVERS || s.cues > 10 * OVERS)
			fail_msg("seed %d: %d overs", (int)seed, s.cues);
		script_free(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(foretells_the_truth),
		cmocka_unit_test(equal_seeds_draw_equally),
		cmocka_unit_test(a_part_knows_nothing_before_it),
		cmocka_unit_test(every_look_is_true),
		cmocka_unit_test(unseen_ones_are_in_the_same_hour),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
