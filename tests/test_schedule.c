/* The schedule alone: what it promises, kept under any load. Nothing here waits. */
#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

#include "daemon/schedule.h"

#define SEED    UINT64_C(20260417)
#define LOOK_US 20000
#define VISIT_US 35000
#define HOUR    INT64_C(3600000000)
#define HOPS_MOST 400

/* Splitmix64: the same everywhere. */
static double chance(uint64_t *state)
{
	uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

/* Wants a look at whatever is held, as often as it is asked, or never. */
struct eager {
	bool     wants;
	uint64_t state;
	int      n_hops, taken;
};

static bool eager_wants(void *self, const bool *held, struct visit *out)
{
	struct eager *e = self;
	int hop = (int)(chance(&e->state) * e->n_hops);

	if (!e->wants || !held[hop])
		return false;
	*out = (struct visit){ .hop = hop, .looks = 2, .moved = FREQ_HZ(137000), .mark = 7 };
	return true;
}

/* What an hour or more of visits came to. */
struct outcome {
	int64_t now_us, spent_us[VISIT_KINDS];
	int64_t swept_us[HOPS_MOST], worst_us;  /* longest from one sweep of a hop to the next */
	int64_t parks[HOPS_MOST], first_us, shortest_us;
	int     visits[VISIT_KINDS];
	int     foreseen;       /* visits that were, before the one before was over */
};

struct load {
	const char *why;
	int     hops;
	double  jitter;         /* visits cost up to this share more            */
	double  revisit_s;      /* 0: as it comes                               */
	double  park_s, park_share, challenge_share;
	int     lively;         /* so many hops have overs, every other sweep   */
	bool    challenged;
	double  tolerated_s;    /* over the promise                             */
};

static int64_t visit_cost(const struct load *l, const struct visit *v, uint64_t *state)
{
	int64_t us = v->looks * LOOK_US + (VISIT_US - LOOK_US);

	if (v->kind == VISIT_CHALLENGE)
		us += VISIT_US - LOOK_US;
	return us + (int64_t)(l->jitter * VISIT_US * chance(state));
}

static void note(struct outcome *o, const struct visit *v, int64_t us)
{
	o->now_us += us;
	o->spent_us[v->kind] += us;
	o->visits[v->kind]++;
	if (v->kind == VISIT_PARK) {
		o->parks[v->hop]++;
		o->shortest_us = o->shortest_us && o->shortest_us < v->looks * LOOK_US ?
			o->shortest_us : v->looks * LOOK_US;
	}
	if (v->kind != VISIT_SWEEP)
		return;
	if (o->swept_us[v->hop] && o->now_us - o->swept_us[v->hop] > o->worst_us)
		o->worst_us = o->now_us - o->swept_us[v->hop];
	o->swept_us[v->hop] = o->now_us;
}

static struct schedule *schedule_of(const struct load *l)
{
	struct schedule_rules r = {
		.look_us = LOOK_US, .visit_us = VISIT_US, .revisit_us = (int64_t)(l->revisit_s * 1e6),
		.park_us = (int64_t)(l->park_s * 1e6), .park_share = l->park_share,
		.challenge_share = l->challenge_share,
	};
	struct schedule *s = schedule_create(&r, l->hops);

	assert_non_null(s);
	for (int i = 0; i < l->hops; i++)
		schedule_take(s, i);
	return s;
}

/* It comes whatever was heard and wanted. */
static void check_foreseen(struct schedule *s, const struct load *l, const struct challenger *c,
			   int hop)
{
	struct visit v;

	assert_true(schedule_next(s, c, &v));
	if (v.kind != VISIT_SWEEP || v.hop != hop || v.first)
		fail_msg("%s: foresaw hop %d amid a sweep, came %d, kind %d", l->why, hop, v.hop, v.kind);
}

static struct outcome run(struct schedule *s, const struct load *l, int64_t for_us)
{
	struct outcome o = { 0 };
	struct eager e = { l->challenged, SEED, l->hops, 0 };
	struct challenger c = { &e, eager_wants };
	uint64_t state = SEED + 1;
	struct visit v;

	while (o.now_us < for_us) {
		assert_true(schedule_next(s, &c, &v));
		assert_in_range(v.hop, 0, l->hops - 1);
		assert_in_range(v.looks, 1, 100000);
		int64_t us = visit_cost(l, &v, &state);
		bool over = v.kind == VISIT_SWEEP && v.hop < l->lively && chance(&state) < 0.5;
		int next;
		bool sure = schedule_foresee(s, &next);
		schedule_spent(s, &v, us, over);
		if (sure)
			check_foreseen(s, l, &c, next);
		o.foreseen += sure;
		note(&o, &v, us);
	}
	return o;
}

static const struct load loads[] = {
	{ "an ordinary station, nothing wanted", 44, 0.2, 0, 10, 0.2, 0.05, 0, false, 0 },
	{ "the same in a lively place", 44, 0.2, 0, 10, 0.2, 0.05, 10, true, 0 },
	{ "every hop lively", 44, 0.2, 0, 10, 0.2, 0.05, 44, true, 0 },
	{ "half of it for parks", 44, 0.2, 0, 10, 0.5, 0.05, 10, true, 0 },
	{ "all for parks that can be", 44, 0.2, 0, 10, 0.9, 0.1, 44, true, 0 },
	{ "two hops", 2, 0.2, 0, 10, 0.5, 0.05, 1, true, 0 },
	{ "three, of very unequal cost", 3, 3, 0, 10, 0.3, 0.05, 1, true, 0 },
	{ "a wide survey", 300, 0.2, 0, 10, 0.2, 0.05, 30, true, 0 },
	{ "a long revisit", 44, 0.2, 60, 10, 0.5, 0.05, 10, true, 0 },
	{ "a revisit too short for a whole park", 44, 0.2, 6, 10, 0.3, 0.05, 10, true, 0 },
	{ "too short for any park", 44, 0.2, 2.2, 10, 0.3, 0.05, 10, true, 0 },
	{ "long parks", 20, 0.2, 0, 60, 0.4, 0.05, 5, true, 0 },
};

#define LOADS (sizeof loads / sizeof loads[0])

/* Whatever is lively or wanted, a hop is swept again in time. */
static void the_promise_is_kept(void **state)
{
	(void)state;
	for (size_t i = 0; i < LOADS; i++) {
		struct schedule *s = schedule_of(&loads[i]);
		struct outcome o = run(s, &loads[i], 4 * HOUR);
		struct schedule_facts f = schedule_facts(s);
		/* All but the first of each sweep. */
		if (o.foreseen != o.visits[VISIT_SWEEP] - f.sweeps)
			fail_msg("%s: %d of %d visits foreseen in %" PRId64 " sweeps", loads[i].why,
				 o.foreseen, o.visits[VISIT_SWEEP], f.sweeps);
		if (o.worst_us > f.revisit_us)
			fail_msg("%s: a hop was not swept for %.2f s, the promise is %.2f s (seed %" PRIu64 ")",
				 loads[i].why, 1e-6 * (double)o.worst_us, 1e-6 * (double)f.revisit_us, SEED);
		if (loads[i].revisit_s > 0 && f.revisit_us != (int64_t)(loads[i].revisit_s * 1e6))
			fail_msg("%s: promises %.2f s", loads[i].why, 1e-6 * (double)f.revisit_us);
		schedule_destroy(s);
	}
}

/* Of the time left parks and challenges get what they were promised, within two
 * hundredths of all time. */
static void shares_are_kept(void **state)
{
	(void)state;
	for (size_t i = 0; i < LOADS; i++) {
		const struct load *l = &loads[i];
		struct schedule *s = schedule_of(l);
		struct outcome o = run(s, l, 4 * HOUR);
		struct schedule_facts f = schedule_facts(s);
		double all = (double)o.now_us;
		double parks = (double)o.spent_us[VISIT_PARK] / all;
		double challenges = (double)o.spent_us[VISIT_CHALLENGE] / all;
		double want = f.park_us > 0 ? l->park_share * f.left : 0;
		double want_c = l->challenged ? l->challenge_share * f.left : 0;
		/* What is left is worth a share only where a challenge or park fits. */
		bool fits = l->revisit_s == 0 || l->revisit_s > 3;
		if (fits && (fabs(parks - want) > 0.02 || fabs(challenges - want_c) > 0.02))
			fail_msg("%s: parks %.3f, want %.3f; challenges %.3f, want %.3f (seed %" PRIu64 ")",
				 l->why, parks, want, challenges, want_c, SEED);
		if (!fits && o.visits[VISIT_PARK] > 0)
			fail_msg("%s: %d parks, the shortest of %.2f s", l->why, o.visits[VISIT_PARK],
				 1e-6 * (double)o.shortest_us);
		if (f.park_us > 0 && fabs((double)o.visits[VISIT_PARK] / (all / (double)HOUR) - f.parks_an_hour) >
		    0.1 * f.parks_an_hour + 1)
			fail_msg("%s: %.1f parks an hour, said %.1f", l->why,
				 (double)o.visits[VISIT_PARK] / (all / (double)HOUR), f.parks_an_hour);
		schedule_destroy(s);
	}
}

/* Lively hops are parked on in turn, others hardly. */
static void parks_are_fair(void **state)
{
	const struct load l = { "fair", 44, 0.2, 0, 10, 0.5, 0.05, 8, true, 0 };
	struct schedule *s = schedule_of(&l);
	struct outcome o = run(s, &l, 4 * HOUR);
	int64_t least = INT64_MAX, most = 0, dull = 0;

	(void)state;
	for (int i = 0; i < l.hops; i++) {
		if (i >= l.lively) {
			dull += o.parks[i];
			continue;
		}
		least = o.parks[i] < least ? o.parks[i] : least;
		most = o.parks[i] > most ? o.parks[i] : most;
	}
	/* All eight have had an over of late nearly always: each gets its turn. */
	if (least < 20 || most > least + 3)
		fail_msg("%" PRId64 " to %" PRId64 " parks on lively hops (seed %" PRIu64 ")", least, most,
			 SEED);
	if (dull * 20 > o.visits[VISIT_PARK])
		fail_msg("%" PRId64 " of %d parks where nothing goes on", dull, o.visits[VISIT_PARK]);
	schedule_destroy(s);
}

/* Where nothing goes on parks go round, so that a rare over is not missed for ever. */
static void parks_in_silence_go_round(void **state)
{
	const struct load l = { "silence", 10, 0.2, 0, 10, 0.5, 0.05, 0, true, 0 };
	struct schedule *s = schedule_of(&l);
	struct outcome o = run(s, &l, HOUR);

	(void)state;
	for (int i = 0; i < l.hops; i++)
		if (llabs(o.parks[i] - o.visits[VISIT_PARK] / l.hops) > 1)
			fail_msg("hop %d: %" PRId64 " parks of %d", i, o.parks[i], o.visits[VISIT_PARK]);
	assert_in_range(o.visits[VISIT_PARK], 100, 400);
	schedule_destroy(s);
}

/* Occupancy is estimated from sweeps as if they looked at all times alike: so when
 * they look may not depend on what they heard. */
static void sweeps_do_not_follow_what_is_heard(void **state)
{
	const struct load base = { "silent", 20, 0, 0, 10, 0.4, 0, 0, false, 0 };
	struct load lively = base;
	struct visit a, b;
	int parks = 0, elsewhere = 0;

	(void)state;
	lively.lively = 7;
	struct schedule *s = schedule_of(&base), *t = schedule_of(&lively);
	uint64_t x = SEED, y = SEED;
	for (int i = 0; i < 200000; i++) {
		assert_true(schedule_next(s, NULL, &a) && schedule_next(t, NULL, &b));
		if (a.kind != b.kind || a.looks != b.looks || (a.kind == VISIT_SWEEP && a.hop != b.hop))
			fail_msg("visit %d is another where something goes on (seed %" PRIu64 ")", i, SEED);
		parks += a.kind == VISIT_PARK;
		elsewhere += a.hop != b.hop;
		schedule_spent(s, &a, visit_cost(&base, &a, &x), 0);
		schedule_spent(t, &b, visit_cost(&lively, &b, &y), b.hop < 7);
	}
	assert_in_range(parks, 200, 1000);
	assert_true(elsewhere > parks / 4);     /* but where they are held does */
	schedule_destroy(s);
	schedule_destroy(t);
}

static void the_same_until_it_is_spent(void **state)
{
	const struct load l = { "again", 5, 0, 0, 10, 0, 0, 0, false, 0 };
	struct schedule *s = schedule_of(&l);
	struct visit v, again;

	(void)state;
	for (int i = 0; i < 20; i++) {
		assert_true(schedule_next(s, NULL, &v) && schedule_next(s, NULL, &again));
		assert_int_equal(v.hop, again.hop);
		assert_int_equal(v.hop, i % 5);
		assert_int_equal(v.first, i % 5 == 0);
		schedule_spent(s, &v, VISIT_US, 0);
	}
	assert_int_equal(schedule_facts(s).sweeps, 4);
	schedule_drop(s, 0);            /* it was to be next */
	assert_true(schedule_next(s, NULL, &v));
	assert_int_equal(v.hop, 1);
	for (int i = 0; i < 5; i++)
		schedule_drop(s, i);
	assert_false(schedule_next(s, NULL, &v));
	assert_int_equal(schedule_held(s), 0);
	schedule_destroy(s);
}

/* What comes from another post was not looked at for a while. */
static void hops_taken_over_come_first(void **state)
{
	const struct load l = { "taken", 10, 0, 0, 10, 0.5, 0, 0, false, 0 };
	struct schedule_rules r = { .look_us = LOOK_US, .visit_us = VISIT_US, .park_us = 10000000,
				    .park_share = 0.5 };
	struct schedule *s = schedule_create(&r, l.hops);
	struct visit v;

	(void)state;
	for (int i = 0; i < 5; i++)
		schedule_take(s, i);
	for (int i = 0; i < 12; i++) {
		assert_true(schedule_next(s, NULL, &v));
		schedule_spent(s, &v, VISIT_US, 0);
	}
	for (int i = 9; i >= 5; i--)
		schedule_take(s, i);
	for (int i = 5; i < 10; i++) {
		assert_true(schedule_next(s, NULL, &v));
		assert_int_equal(v.kind, VISIT_SWEEP);
		assert_int_equal(v.hop, i);
		schedule_spent(s, &v, VISIT_US, 0);
	}
	schedule_destroy(s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_promise_is_kept),
		cmocka_unit_test(shares_are_kept),
		cmocka_unit_test(parks_are_fair),
		cmocka_unit_test(parks_in_silence_go_round),
		cmocka_unit_test(sweeps_do_not_follow_what_is_heard),
		cmocka_unit_test(the_same_until_it_is_spent),
		cmocka_unit_test(hops_taken_over_come_first),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
