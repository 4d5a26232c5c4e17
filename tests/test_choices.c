/* What a rehearsal decides: delays, the priority, second seats of what must not wait. */
#include "tests/test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/plan_world.h"
#include "tests/shelf_receiver.h"
#include "tools/plan/delay.h"
#include "tools/plan/doubles.h"
#include "tools/plan/merit.h"
#include "tools/plan/priority.h"
#include "tools/plan/propose.h"

static const struct band bands[] = {
	{ "fire", "Fire", "fire", { FREQ_KHZ(154000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "police", "Police", "police", { FREQ_KHZ(155000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "works", "Works", "works", { FREQ_KHZ(156000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "own", "Own", "personal", { FREQ_KHZ(158000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
	{ "trade", "Trade", "business", { FREQ_KHZ(160000), FREQ_KHZ(25), 40 }, MODE_NFM, 11000, { { 0 } } },
};

/* ---- delays ---- */

static struct receiver four_delays(void)
{
	struct receiver r = shelf_receiver();
	static const int64_t choices[] = { 500000, 1000000, 2000000, 4000000 };

	r.delays = 4;
	memcpy(r.delay_us, choices, sizeof choices);
	return r;
}

/* Choices 0.5, 1, 2, 4 s: the shortest that 85 % of pauses are shorter than. */
static void delays_by_measured_pauses(void **state)
{
	static const struct { const char *why; double gap_s, most_s; enum pairing is; double hang_s; int64_t want; } rows[] = {
		{ "nothing measured: 2 s", 0, 0, PAIR_NONE, 0, 2000000 },
		{ "a mean of 1 s is over by 1.45 s for 85 %", 1, 1.45, PAIR_NONE, 0, 2000000 },
		{ "a mean of 0.7 s by 0.88 s", 0.7, 0.88, PAIR_NONE, 0, 1000000 },
		{ "a mean of 2 s by 3.35 s", 2, 3.35, PAIR_NONE, 0, 4000000 },
		{ "longer than can be set: the longest", 6, 11, PAIR_NONE, 0, 4000000 },
		{ "a repeater that hangs for 3 s: the shortest that does for 70 %", 1.5, 2.4, PAIR_OUTPUT, 3, 2000000 },
		{ "one that hangs for 1 s: as measured", 1.5, 2.4, PAIR_OUTPUT, 1, 4000000 },
	};
	struct receiver r = four_delays();

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct channel ch = { .gap_s = rows[i].most_s, .pair = { .is = rows[i].is, .hang_s = rows[i].hang_s } };
		const struct census c = { .channel = &ch, .channels = 1 };
		char why[80];
		ch.traffic.gap_s.value = rows[i].gap_s;
		int64_t got = delay_measured(&r, &c, 0, why);
		if (got != rows[i].want || !why[0] || !delay_fits(&r, &ch, got))
			fail_msg("%s: %g s (%s)", rows[i].why, 1e-6 * (double)got, why);
	}
	/* Exponential beyond the hang: half of pauses of 2.5 s in the mean are over by 0.5 + 2 ln 2. */
	struct channel ch = { .traffic = { .gap_s = { 2.5, { 2, 3 } } } };
	assert_true(fabs(delay_covers(&ch, 0.5 + 2 * log(2)) - 0.5) < 1e-9);
	assert_true(delay_covers(&ch, 0.5) == 0 && !delay_fits(&r, &ch, 2000000) && delay_fits(&r, &ch, 4000000));
}

/* ---- against all choices ---- */

#define STATIONS 4

/* Two of fire, one of police, one of works, all in one bank of a receiver that has one. */
static void small_scene(struct scene *s, int seed)
{
	static const int of[STATIONS] = { 0, 0, 1, 2 };

	scene_begin(s, bands, 5);
	s->receiver = four_delays();
	s->receiver.banks = 1;
	s->receiver.scan_rate = 2 + seed;
	for (int k = 0; k < STATIONS; k++)
		for (int e = 0; e < 15 + 12 * k + 3 * seed; e++)
			for (int n = 0; n < 3; n++)
				scene_add(s, (struct world_over){ of[k], 3 + 7 * k,
					60 + fmod(e * (331.7 + 71 * k) + 97 * seed, 13000) + n * (4.4 + k + 0.25 * (e % 3)), 3.5 + k, 300, 0, 9000,
					KIND_NFM, 0 });
	scene_propose(s);
	plan_destroy(s->plan);          /* anew, with pauses measured */
	assert_int_equal(census_traffic(s->census), 0);
	s->plan = propose(s->census, s->suspect, &s->receiver, &s->interests);
	assert_non_null(s->plan);
}

static double all_sets(struct merit *v, const struct plan *p)
{
	double sum = 0;

	for (int k = 0; k < v->sets; k++)
		sum += merit_set(v, p, k) * v->of[k];
	return sum;
}

/* Every delay that fits beside the ones that are there, and every priority: the best there is. */
static double best_of_all(struct scene *s, struct merit *v, int *tried)
{
	struct plan *p = s->plan;
	const struct matter m = { s->census, s->suspect, &s->receiver, &s->interests, NULL };
	const struct receiver *r = &s->receiver;
	double best = 0;
	int all = p->memories;

	for (int code = 0; code < (int)pow(r->delays, all) * (all + 1); code++) {
		int rest = code / (all + 1), prior = code % (all + 1) - 1;
		bool fit = prior < 0 || priority_fit(&m, &p->memory[prior]);
		for (int i = 0; i < all && fit; i++, rest /= r->delays) {
			struct memory *e = &p->memory[i];
			e->delay_us = r->delay_us[rest % r->delays];
			e->priority = i == prior;
			fit = delay_fits(r, &s->census->channel[e->channel], e->delay_us) && e->delay_us <= 4000000;
		}
		if (!fit)
			continue;
		(*tried)++;
		best = fmax(best, all_sets(v, p));
	}
	return best;
}

/* Delays and priority as chosen, one after the other, are within 1 % of the best of all. */
static void against_all_choices(void **state)
{
	int tried = 0;

	(void)state;
	for (int seed = 0; seed < 4; seed++) {
		struct scene s;
		struct repertoire on;
		struct merit v;
		small_scene(&s, seed);
		assert_int_equal(s.plan->memories, STATIONS);
		assert_int_equal(repertoire_create(&on, s.census), 0);
		assert_int_equal(merit_create(&v, s.plan, s.census, &s.receiver, &on), 0);
		double got = all_sets(&v, s.plan), best = best_of_all(&s, &v, &tried);
		print_message("scene %d: chosen %.4f, the best of all %.4f\n", seed, got, best);
		if (got < 0.99 * best || got > best + 1e-9)
			fail_msg("scene %d: chosen %.4f, the best of all %.4f", seed, got, best);
		merit_free(&v);
		repertoire_free(&on);
		scene_end(&s);
	}
	print_message("%d tried\n", tried);
	assert_true(tried > 40);
}

/* ---- priority ---- */

static const struct memory *the_priority(const struct plan *p)
{
	for (int i = 0; i < p->memories; i++)
		if (p->memory[i].priority)
			return &p->memory[i];
	return NULL;
}

/* Fire, seldom on, among many others: it is the priority. Where a look takes nearly as long as from
 * one look aside to the next, it does not pay, and that is said. */
static void priority_by_rehearsal(void **state)
{
	static const struct { double rate; bool pays; } rows[] = { { 25, true }, { 0.52, false } };

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct scene s;
		scene_begin(&s, bands, 5);
		s.receiver.scan_rate = rows[i].rate;
		scene_talk(&s, 0, 3, 40, 300, KIND_NFM);
		for (int k = 0; k < 12; k++)
			scene_talk(&s, 1 + k % 2, 1 + 3 * k, 41 + k, 250, KIND_NFM);
		scene_propose(&s);
		const struct memory *e = the_priority(s.plan);
		if ((e != NULL) != rows[i].pays || (e && strcmp(e->service, "fire") != 0) ||
		    (strncmp(s.plan->priority, "none pays", 9) == 0) == rows[i].pays)
			fail_msg("at %g/s: %s", rows[i].rate, s.plan->priority);
		scene_end(&s);
	}
}

/* ---- doubles ---- */

#define SILENT 20               /* of either other bank, nearly */

static int doubles_of(const struct plan *p, int bank)
{
	int n = 0;

	for (int i = 0; i < p->memories; i++)
		n += p->memory[i].same_as.bank == bank && strcmp(p->memory[i].service, "fire") == 0;
	return n;
}

/* A slow receiver of three banks: in a quiet night, with all of them on, fire on a second channel, the
 * priority being taken, is looked at twice a round, and no rule is broken. A fast one needs none. */
static void doubles_where_they_pay(void **state)
{
	static const struct { double rate; bool any; } rows[] = { { 8, true }, { 1000, false } };

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct scene s;
		char broken[200];
		scene_begin(&s, bands, 5);
		s.receiver.banks = 3;
		s.receiver.scan_rate = rows[i].rate;
		for (int k = 0; k < 60; k++) {
			scene_add(&s, (struct world_over){ 0, 3, 90 + 230 * k, 1.2, 300, 0, 9000, KIND_NFM, 0 });
			scene_add(&s, (struct world_over){ 0, 30, 30 + 210 * k, 1.2, 300, 0, 9000, KIND_NFM, 0 });
		}
		for (int k = 0; k < 2 * SILENT; k++)
			scene_talk(&s, 3 + k % 2, 1 + k / 2, 2, 250, KIND_NFM);
		scene_propose(&s);
		const char *rule = plan_check(s.plan, &s.receiver, s.census, s.suspect, broken);
		if (rule)
			fail_msg("at %g/s: %s", rows[i].rate, rule);
		assert_non_null(the_priority(s.plan));
		int n = doubles_of(s.plan, 1);
		if ((n > 0) != rows[i].any)
			fail_msg("at %g/s: %d second seats, %d sets", rows[i].rate, n, s.plan->sets);
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(delays_by_measured_pauses),
		cmocka_unit_test(against_all_choices),
		cmocka_unit_test(priority_by_rehearsal),
		cmocka_unit_test(doubles_where_they_pay),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
