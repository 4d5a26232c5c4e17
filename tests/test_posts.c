/* Several posts on one watch: who looks when one of them does not, and that what
 * was not looked at is not counted. On clocks of the sources' own, and on one that
 * is waited by. */
#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/posts_world.h"

#define LEARN    128            /* blocks that only teach each post its passband    */
#define HANDED_S 4.5            /* nothing is unlooked at for longer than this      */

static const struct posts_row rows[] = {
	{ "one post", 1, { NEVER }, 1, 0, false, "", 0.3 },
	{ "one post that parks", 1, { NEVER }, 1, 0.5, false, "", 2.5 },
	{ "two posts", 2, { NEVER, NEVER }, 1, 0, false, "", 0.2 },
	{ "three for four hops", 3, { NEVER, NEVER, NEVER }, 1, 0, false, "", 0.2 },
	{ "two that park", 2, { NEVER, NEVER }, 1, 0.5, false, "", 2.5 },
	{ "one is lost and back", 2, { NEVER, { TROUBLE_LOST, AT_S, 17, 0, 0 } }, 3, 0, false,
	  "handed handed lost ", HANDED_S },
	{ "the other is", 2, { { TROUBLE_LOST, AT_S, 17, 0, 0 }, NEVER }, 0, 0, false,
	  "handed handed lost ", HANDED_S },
	{ "lost while they park", 2, { { TROUBLE_LOST, AT_S, 17, 0, 0 }, NEVER }, 0, 0.5, false,
	  "handed handed lost ", HANDED_S + 2.5 },
	{ "lost for a moment only", 2, { NEVER, { TROUBLE_LOST, AT_S, AT_S + 0.5, 0, 0 } }, 3, 0, false,
	  "lost ", HANDED_S },
	{ "never back", 2, { NEVER, { TROUBLE_LOST, AT_S, NEVER_S, 0, 0 } }, 3, 0, false, "handed lost ",
	  HANDED_S },
	{ "fails for good", 2, { NEVER, { TROUBLE_DEAD, AT_S, NEVER_S, 0, 0 } }, 3, 0, false,
	  "handed stopped ", HANDED_S },
	{ "comes to its end", 2, { { TROUBLE_END, AT_S, NEVER_S, 0, 0 }, NEVER }, 3, 0, false, "handed ",
	  HANDED_S },
	{ "hangs without a word", 2, { { TROUBLE_HANGS, AT_S, NEVER_S, 0, 0 }, NEVER }, 3, 0, true,
	  "handed ", HANDED_S },
	{ "not there at the start", 2, { NEVER, { TROUBLE_TUNING, 0, 12, 0, 0 } }, 3, 0, false,
	  "handed handed lost ", 0 },
	{ "one of three is lost", 3, { NEVER, { TROUBLE_LOST, AT_S, 17, 0, 0 }, NEVER }, 2, 0, false,
	  "handed handed lost ", HANDED_S },
	{ "all are lost at once", 2, { { TROUBLE_TUNING, AT_S, 12, 0, 0 }, { TROUBLE_TUNING, AT_S, 12, 0, 0 } },
	  0, 0, false, "lost lost ", 8 },
	{ "a hop can't be had", 1, { { TROUBLE_DEAF, 0, NEVER_S, 0, 0 } }, 2, 0, false, "deaf ", 0 },
	{ "for a while", 1, { { TROUBLE_DEAF, AT_S, 15, 0, 0 } }, 2, 0, false, "deaf ", 6.4 },
	{ "not by one of two", 2, { NEVER, { TROUBLE_DEAF, AT_S, 15, 0, 0 } }, 2, 0, false, "deaf ", 6.4 },
};

#define ROWS (sizeof rows / sizeof rows[0])

static int by_name(const void *a, const void *b)
{
	return strcmp(((const struct incident_row *)a)->what, ((const struct incident_row *)b)->what);
}

static void check_incidents(const struct posts_row *r, struct posts_outing *o)
{
	char all[256] = "";

	if (o->seen.n_incident > WORLD_ROWS)
		fail_msg("%s: %d incidents, the last kept: %s", r->why, o->seen.n_incident,
			 o->seen.incident[WORLD_ROWS - 1].text);
	qsort(o->seen.incident, (size_t)o->seen.n_incident, sizeof *o->seen.incident, by_name);
	for (int i = 0; i < o->seen.n_incident; i++)
		snprintf(all + strlen(all), sizeof all - strlen(all), "%s ", o->seen.incident[i].what);
	if (strcmp(all, r->incidents) == 0)
		return;
	for (int i = 0; i < o->seen.n_incident; i++)
		print_message("  %.1f s: %s\n",
			      1e-6 * (double)(o->seen.incident[i].at_us - DAY_US - 600 * SECOND),
			      o->seen.incident[i].text);
	fail_msg("%s: incidents are \"%s\", want \"%s\"", r->why, all, r->incidents);
}

static int learnt_from(const struct fake_source *f)
{
	bool deaf = f->script.trouble == TROUBLE_DEAF && f->script.at_s < AT_S;

	return deaf ? LEARN * (BANDS - 1) / BANDS : LEARN;
}

/* A look counts once, where samples were handed over, and nowhere else. What came
 * to a post whose hop was another's by then does not: a handful. */
static void check_looked(const struct posts_row *r, const struct posts_outing *o)
{
	int64_t handed[BANDS] = { 0 }, us = 0, all = 0, kept = 0;

	for (int p = 0; p < o->posts; p++)
		for (int i = learnt_from(o->fake[p]); i < o->fake[p]->blocks; i++) {
			const struct delivery *d = &o->fake[p]->block[i];
			for (int b = 0; b < BANDS; b++)
				handed[b] += d->centre.thirds == o->hops.hops[b].centre.thirds;
			us = d->end_us - d->start_us;
			all++;
		}
	for (int b = 0; b < BANDS; b++) {
		kept += o->looks[b];
		if (o->looks[b] > handed[b] || llabs(o->looked_us[b] - o->looks[b] * us) > o->looks[b])
			fail_msg("%s: hop %d: %" PRId64 " looks of %" PRId64 " blocks, %" PRId64 " us", r->why,
				 b, o->looks[b], handed[b], o->looked_us[b]);
	}
	if (r->park_share <= 0 ? kept < all - 2 * o->posts : kept > 3 * all / 4)
		fail_msg("%s: %" PRId64 " looks of %" PRId64 " blocks", r->why, kept, all);
}

/* Longest time between two blocks of a hop, by whatever post, to the end of the watch. */
static double longest_gap_s(const struct posts_outing *o, int hop, int64_t from_us, int64_t to_us)
{
	int64_t last = from_us, worst = 0;

	for (;;) {
		int64_t next = INT64_MAX;
		for (int p = 0; p < o->posts; p++)
			for (int i = LEARN; i < o->fake[p]->blocks; i++) {
				const struct delivery *d = &o->fake[p]->block[i];
				if (d->centre.thirds == o->hops.hops[hop].centre.thirds &&
				    d->mono_us > last && d->mono_us < next)
					next = d->mono_us;
			}
		if (next > to_us)
			return 1e-6 * (double)(to_us - last > worst ? to_us - last : worst);
		worst = next - last > worst ? next - last : worst;
		last = next;
	}
}

static void check_unlooked(const struct posts_row *r, const struct posts_outing *o)
{
	int64_t from = o->fake[0]->block[LEARN].mono_us;

	for (int hop = 0; hop < BANDS && r->unlooked_s > 0; hop++) {
		double s = longest_gap_s(o, hop, from, from + (int64_t)(FOR_S * 1e6) - SECOND);
		if (s > r->unlooked_s)
			fail_msg("%s: hop %d was not looked at for %.2f s", r->why, hop, s);
	}
}

static void check_row(const struct place *p, const struct posts_row *r, bool waits)
{
	struct posts_outing o = posts_go(p, r, waits);

	if (o.result != 0)
		fail_msg("%s: %s", r->why, o.why.text);
	check_incidents(r, &o);
	check_looked(r, &o);
	check_unlooked(r, &o);
	if (waits && o.clock.idle_waits * 20 > o.clock.waits)
		fail_msg("%s: %d of %d waits were for nothing", r->why, o.clock.idle_waits, o.clock.waits);
	posts_let_go(&o);
}

static void on_clocks_of_their_own(void **state)
{
	for (size_t i = 0; i < ROWS; i++)
		if (!rows[i].waits_only)
			check_row(*state, &rows[i], false);
}

static void on_a_clock_to_wait_by(void **state)
{
	for (size_t i = 0; i < ROWS; i++)
		check_row(*state, &rows[i], true);
}

static bool same_coverage(const struct coverage_row *a, const struct coverage_row *b)
{
	return a->hour == b->hour && a->band == b->band && a->first == b->first &&
	       a->count == b->count && a->looks == b->looks && a->pairs == b->pairs &&
	       a->looked_us == b->looked_us && a->clipped == b->clipped &&
	       a->floor_ddb_sum == b->floor_ddb_sum && a->floor_low_ddb == b->floor_low_ddb &&
	       a->floor_high_ddb == b->floor_high_ddb;
}

/* The same night again, block by block: also with two posts, parks and a loss. */
static void replays_identically(void **state)
{
	const struct posts_row r = { "again", 2, { NEVER, { TROUBLE_LOST, AT_S, 17, 0, 0 } }, 3, 0.5, false, "", 0 };
	struct posts_outing a = posts_go(*state, &r, false), b = posts_go(*state, &r, false);

	for (int p = 0; p < 2; p++) {
		assert_int_equal(a.fake[p]->blocks, b.fake[p]->blocks);
		assert_memory_equal(a.fake[p]->block, b.fake[p]->block, sizeof a.fake[p]->block);
	}
	assert_int_equal(a.seen.n_coverage, b.seen.n_coverage);
	for (int i = 0; i < a.seen.n_coverage; i++)     /* not as bytes: what pads them is anything */
		assert_true(same_coverage(&a.seen.coverage[i], &b.seen.coverage[i]));
	assert_int_equal(a.seen.n_incident, b.seen.n_incident);
	posts_let_go(&a);
	posts_let_go(&b);
}

/* Whether its source was told of another hop before a look was shown. */
struct early {
	struct fake_source *const *fake;
	int looks, ordered;
};

static void see_order(void *self, const struct sight *s)
{
	struct early *e = self;

	e->looks++;
	e->ordered += e->fake[s->post]->tuned.centre.thirds != s->hop->centre.thirds;
}

/* A tuner needs its time: it is told where to go next before the last look is judged,
 * but for the last one of a sweep; where time is in the data that gains nothing. */
static void the_next_hop_is_ordered_first(void **state)
{
	const struct posts_row r = { "ordered", 2, { NEVER, NEVER }, 1, 0, false, "", 0 };

	for (int waits = 0; waits < 2; waits++) {
		struct posts_outing o = { .posts = 2, .clock.sources = 2 };
		struct early e = { .fake = o.fake };

		empty_place(*state);
		assert_int_equal(hop_plan_sweep(&o.hops, posts_bands, BANDS, FAKE_RATE), 0);
		o.onlooker = (struct onlooker){ &e, see_order, NULL };
		posts_watch(*state, &r, waits, NULL, &o);
		assert_int_equal(o.result, 0);
		assert_in_range(e.looks, 500, 5000);
		if (!waits)
			assert_int_equal(e.ordered, 0);
		else    /* of two hops each the first one's look; not at the end */
			assert_in_range(e.ordered, e.looks / 2 - 3, e.looks / 2 + 3);
		posts_let_go(&o);
	}
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(on_clocks_of_their_own),
		TEST(on_a_clock_to_wait_by),
		TEST(replays_identically),
		TEST(the_next_hop_is_ordered_first),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
