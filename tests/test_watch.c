#include "tests/test.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

#include "tests/fault_check.h"
#include "tests/outing.h"

static const struct script nothing = { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 0 };

/* How many blocks went into learning the passband, when nothing happened. */
static int learnt_from(const struct place *p)
{
	struct outing o = go(p, &nothing, DAY_US + 600 * SECOND, FOR_S);
	int learnt = o.fake->blocks - (int)(o.looks[0] + o.looks[1]);

	assert_int_equal(o.result, 0);
	assert_in_range(learnt, 50, 150);
	free(o.fake);
	return learnt;
}

/* After the learning the hops take turns, also when one could not be had at once;
 * every block is a look of its hop, once, unless it has a gap; and every look with
 * the carrier in it is busy. */
static void books_balance(const char *why, const struct outing *o, int learnt)
{
	int64_t looks[BANDS] = { 0 }, looked_us[BANDS] = { 0 }, on = 0, on_us = 0;
	const struct fake_source *f = o->fake;

	for (int i = learnt; i < f->blocks; i++) {
		const struct delivery *d = &f->block[i];
		int band = d->centre.thirds == f->fragile.thirds;
		if (i > learnt && d->centre.thirds == d[-1].centre.thirds)
			fail_msg("%s: block %d is of the same hop as the one before", why, i);
		looks[band] += !d->gap;
		looked_us[band] += d->gap ? 0 : d->end_us - d->start_us;
		on += d->on && !d->gap;
		on_us += d->on && !d->gap ? d->end_us - d->start_us : 0;
	}
	for (int b = 0; b < BANDS; b++)
		if (o->looks[b] != looks[b] || llabs(o->looked_us[b] - looked_us[b]) > looks[b])
			fail_msg("%s: band %d: kept %" PRId64 " looks, %" PRId64 " us, was handed %" PRId64
				 ", %" PRId64 " us (seed %" PRIu64 ")", why, b, o->looks[b],
				 o->looked_us[b], looks[b], looked_us[b], SEED);
	if (o->busy_looks != on)
		fail_msg("%s: %" PRId64 " busy looks, the carrier was on in %" PRId64 " (seed %" PRIu64 ")",
			 why, o->busy_looks, on, SEED);
	/* The carrier fills its looks. */
	if (llabs(o->busy_us - on_us) > on)
		fail_msg("%s: busy for %" PRId64 " us, the carrier was on for %" PRId64 " (seed %" PRIu64 ")",
			 why, o->busy_us, on_us, SEED);
}

/* A minute was looked at when a look began in it, and is as strong as what was on then. What
 * leaks from the carrier may blind others, but opens none. */
static void strips_agree(const char *why, const struct outing *o, int learnt)
{
	const struct fake_source *f = o->fake;

	for (int m = 0; m < MINUTES; m++) {
		bool looked[BANDS] = { false }, on = false;
		for (int i = learnt; i < f->blocks; i++) {
			const struct delivery *d = &f->block[i];
			if ((d->start_us - DAY_US) / STRIP_MINUTE_US != m || d->gap)
				continue;
			looked[d->centre.thirds == f->fragile.thirds] = true;
			on |= d->on;
		}
		for (int b = 0; b < BANDS; b++)
			for (int c = 0; c < CHANNELS; c++) {
				int got = o->strip[b][m][c];
				bool carrier = b == 0 && c == CHANNEL && on;
				if (carrier ? abs(got - STRIP_HEARD - 20) > 1 :
				    got > STRIP_QUIET || (got == STRIP_QUIET && !looked[b]) ||
				    (got == STRIP_NOT_LOOKED && looked[b] && !on))
					fail_msg("%s: minute %d, band %d channel %d is %d (seed %" PRIu64 ")", why,
						 m, b, c, got, SEED);
			}
	}
}

static void floors_are_in_order(const char *why, const struct outing *o)
{
	for (int i = 0; i < o->seen.n_coverage; i++) {
		const struct coverage_row *c = &o->seen.coverage[i];
		double mean = (double)c->floor_ddb_sum / (double)c->looks;
		if (c->floor_low_ddb > mean || mean > c->floor_high_ddb || c->floor_low_ddb >= 0 ||
		    c->floor_high_ddb - c->floor_low_ddb > 20)
			fail_msg("%s: floor from %d to %d, %.1f on the mean", why, c->floor_low_ddb,
				 c->floor_high_ddb, mean);
	}
}

static const struct row {
	const char     *why;
	struct script   script;
	double          for_s;
	int             result;
	const char     *says;           /* when it failed                              */
	const char     *incident;       /* the only one; NULL: none                    */
	const char     *text;           /* in it                                       */
	int             overs;          /* -1: not told here                           */
} rows[] = {
	{ "nothing happens", { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 0 }, FOR_S, 0, NULL, NULL, NULL, 1 },
	{ "lost in mid-sweep, and back", { TROUBLE_LOST, 9, 11.5, 0, 0 }, FOR_S, 0, NULL, "lost",
	  "away for 3 s", 1 },
	{ "lost amid an over", { TROUBLE_LOST, 6.5, 6.6, 0, 0 }, FOR_S, 0, NULL, "lost",
	  "away for 1 s", -1 },
	{ "not tuned for a while", { TROUBLE_TUNING, 9, 11.5, 0, 0 }, FOR_S, 0, NULL, "lost",
	  "away for 3 s", 1 },
	{ "never comes back", { TROUBLE_LOST, 9, NEVER_S, 0, 0 }, FOR_S, 0, NULL, "lost",
	  "did not come back", 1 },
	{ "stopped while it is away", { TROUBLE_LOST, 9, NEVER_S, 0, 10.5 }, 0, 0, NULL, "lost",
	  "did not come back", 1 },
	{ "an hour forward amid an over", { TROUBLE_CLOCK, 7, NEVER_S, 3600, 0 }, FOR_S, 0, NULL, "clock",
	  "by +3600.0 s", 1 },
	{ "90 s back amid an over", { TROUBLE_CLOCK, 7, NEVER_S, -90, 0 }, FOR_S, 0, NULL, "clock",
	  "by -90.0 s", 1 },
	{ "1 s is a step", { TROUBLE_CLOCK, 9, NEVER_S, 1, 0 }, FOR_S, 0, NULL, "clock", "by +1.0 s", 1 },
	{ "0.9 s is not", { TROUBLE_CLOCK, 9, NEVER_S, 0.9, 0 }, FOR_S, 0, NULL, NULL, NULL, 1 },
	{ "samples are lost for a while", { TROUBLE_GAPS, 6.5, 9, 0, 0 }, FOR_S, 0, NULL, NULL, NULL, -1 },
	{ "the source ends", { TROUBLE_END, 9, NEVER_S, 0, 0 }, 0, 0, NULL, NULL, NULL, 1 },
	{ "it ends amid an over", { TROUBLE_END, 7, NEVER_S, 0, 0 }, 0, 0, NULL, NULL, NULL, 1 },
	{ "it fails for good", { TROUBLE_DEAD, 9, NEVER_S, 0, 0 }, 0, -1, "the fake burnt out", "stopped",
	  "the fake burnt out", 1 },
	{ "it fails for good amid an over", { TROUBLE_DEAD, 7, NEVER_S, 0, 0 }, FOR_S, -1,
	  "the fake burnt out", "stopped", "the fake burnt out", 1 },
	{ "stopped", { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 9 }, 0, 0, NULL, NULL, NULL, 1 },
	{ "stopped amid an over", { TROUBLE_NONE, NEVER_S, NEVER_S, 0, 7 }, FOR_S, 0, NULL, NULL,
	  NULL, 1 },
};

#define ROWS (sizeof rows / sizeof rows[0])

/* Where the row's incident begins and ends, by the blocks about it. */
static void check_incident(const struct row *r, const struct outing *o)
{
	const struct incident_row *got = &o->seen.incident[0];
	const struct fake_source *f = o->fake;

	if (o->seen.n_incident != (r->incident != NULL))
		fail_msg("%s: %d incidents, the first \"%s\": %s", r->why, o->seen.n_incident, got->what,
			 got->text);
	if (!r->incident)
		return;
	if (strcmp(got->what, r->incident) != 0 || !strstr(got->text, r->text))
		fail_msg("%s: incident \"%s\": %s", r->why, got->what, got->text);
	bool back = f->broken_at >= 0 && f->broken_at < f->blocks;
	int64_t at = f->block[f->blocks - 1].end_us, until = 0;
	if (strcmp(r->incident, "clock") == 0)
		at = f->block[f->broken_at].start_us;
	if (strcmp(r->incident, "lost") == 0) {
		at = f->block[f->broken_at - 1].end_us;
		until = back ? f->block[f->broken_at].start_us : f->utc_us + f->mono_us;
	}
	/* Waits count from the end of the last look, not from the tuning after it. */
	int64_t slack = strcmp(r->incident, "lost") == 0 && !back ? 2 * FAKE_TUNES : 0;
	if (got->at_us != at || llabs(got->until_us - until) > slack)
		fail_msg("%s: from %" PRId64 " to %" PRId64 ", want %" PRId64 " to %" PRId64, r->why,
			 got->at_us, got->until_us, at, until);
}

/* Every over is told as long as it was, whatever the clock said. */
static void check_overs(const struct row *r, const struct outing *o)
{
	const struct fake_source *f = o->fake;
	int64_t from = -1, to = 0;

	if (r->overs < 0)
		return;
	if (o->seen.n_transmission != r->overs)
		fail_msg("%s: %d overs, want %d (seed %" PRIu64 ")", r->why, o->seen.n_transmission,
			 r->overs, SEED);
	for (int i = 0; i < f->blocks; i++)
		if (f->block[i].on) {
			from = from < 0 ? f->block[i].mono_us : from;
			to = f->block[i].mono_us + f->block[i].end_us - f->block[i].start_us;
		}
	const struct transmission_row *t = &o->seen.transmission[0];
	int64_t length = t->last_us - t->first_us;
	if (t->band != 0 || t->channel != CHANNEL || llabs(t->first_us - (f->utc_us + from)) > 2000 ||
	    llabs(length - (to - from)) > 2000)
		fail_msg("%s: band %d channel %d, %" PRId64 " us long, want %" PRId64 " (seed %" PRIu64 ")",
			 r->why, t->band, t->channel, length, to - from, SEED);
}

static void check_end(const struct row *r, const struct outing *o, int learnt)
{
	const struct fake_source *f = o->fake;
	const struct delivery *last = &f->block[f->blocks - 1];

	if (o->result != r->result)
		fail_msg("%s: result %d, \"%s\"", r->why, o->result, o->why.text);
	if (r->says)
		check_fault(r->why, &o->why, FAULT_FATAL, r->says);
	if (f->late_calls)
		fail_msg("%s: %d calls after the stop", r->why, f->late_calls);
	assert_int_equal(o->seen.n_run, 1);
	/* The run ends with the last look, or with the wait for the next. */
	int64_t end = o->seen.run[0].end_us;
	bool away = f->broken_at == f->blocks;
	if (end < last->end_us || (!away && end != last->end_us))
		fail_msg("%s: ended at %" PRId64 ", last heard at %" PRId64, r->why, end, last->end_us);
	if (r->for_s == 0 || f->script.stop_s > 0 || r->result < 0)
		return;
	/* A wait for a lost source is not cut short: the third is of 5 s. */
	int64_t took = f->mono_us - f->block[learnt].mono_us, want = (int64_t)(r->for_s * 1e6);
	if (took < want || took > want + SWEEP_US + (away ? 5 * SECOND : 0))
		fail_msg("%s: %" PRId64 " us instead of %" PRId64, r->why, took, want);
}

static void watches_through_trouble(void **state)
{
	int learnt = learnt_from(*state);

	for (size_t i = 0; i < ROWS; i++) {
		struct outing o = go(*state, &rows[i].script, BEGIN_US, rows[i].for_s);
		check_end(&rows[i], &o, learnt);
		check_incident(&rows[i], &o);
		books_balance(rows[i].why, &o, learnt);
		strips_agree(rows[i].why, &o, learnt);
		floors_are_in_order(rows[i].why, &o);
		check_overs(&rows[i], &o);
		free(o.fake);
	}
}

/* By the clock on the wall, also when that is stepped: the look that reaches the end is the last. */
static void ends_by_the_wall(void **state)
{
	static const struct script step = { .trouble = TROUBLE_CLOCK, .at_s = 6, .until_s = NEVER_S,
					    .step_s = -2 };
	static const struct {
		const struct script *script;
		double               for_s, wall_s;
	} cases[] = { { &nothing, 0, 6 }, { &nothing, 3, 60 }, { &step, 0, 8 } };

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		int64_t until = DAY_US + 600 * SECOND + (int64_t)(cases[i].wall_s * 1e6);
		struct outing o = go_with(*state, cases[i].script, DAY_US + 600 * SECOND, cases[i].for_s,
					  &(struct besides){ .until_us = until });
		const struct delivery *last = &o.fake->block[o.fake->blocks - 1];
		assert_int_equal(o.result, 0);
		if (cases[i].for_s == 0 ? last->end_us < until || last[-1].end_us >= until : last->end_us >= until)
			fail_msg("case %zu: the last look ended %" PRId64 " us after the end", i, last->end_us - until);
		free(o.fake);
	}
}

/* What was kept, without what numbers the rows. */
/* Incidents that tell of rows held back: none, or one however often a commit failed. */
static int told_unwritten(const struct world_seen *w)
{
	int n = 0;

	for (int i = 0; i < w->n_incident && i < WORLD_ROWS; i++)
		n += strcmp(w->incident[i].what, "unwritten") == 0;
	assert_in_range(n, 0, 1);
	return n;
}

static void same_books(const char *why, const struct outing *a, const struct outing *b)
{
	const struct world_seen *x = &a->seen, *y = &b->seen;

	if (x->n_coverage != y->n_coverage || x->n_activity != y->n_activity ||
	    x->n_transmission != y->n_transmission || x->n_incident - told_unwritten(x) != y->n_incident ||
	    x->level_us != y->level_us)
		fail_msg("%s: %d coverage, %d activity, %d overs, want %d, %d, %d", why, x->n_coverage,
			 x->n_activity, x->n_transmission, y->n_coverage, y->n_activity, y->n_transmission);
	if (memcmp(a->strip, b->strip, sizeof a->strip) != 0)
		fail_msg("%s: the strips are others", why);
	for (int i = 0; i < x->n_coverage; i++) {
		const struct coverage_row *c = &x->coverage[i], *d = &y->coverage[i];
		if (c->hour != d->hour || c->looks != d->looks || c->pairs != d->pairs ||
		    c->looked_us != d->looked_us || c->floor_ddb_sum != d->floor_ddb_sum)
			fail_msg("%s: coverage %d: hour %" PRId64 ", %" PRId64 " looks, want hour %" PRId64
				 ", %" PRId64, why, i, c->hour, c->looks, d->hour, d->looks);
	}
	for (int i = 0; i < x->n_activity; i++) {
		const struct activity_row *c = &x->activity[i], *d = &y->activity[i];
		if (c->hour != d->hour || c->busy_looks != d->busy_looks || c->busy_us != d->busy_us ||
		    c->openings != d->openings || c->held != d->held)
			fail_msg("%s: activity %d: %" PRId64 " busy looks, want %" PRId64, why, i,
				 c->busy_looks, d->busy_looks);
	}
	for (int i = 0; i < x->n_transmission; i++)
		if (x->transmission[i].first_us != y->transmission[i].first_us ||
		    x->transmission[i].last_us != y->transmission[i].last_us ||
		    x->transmission[i].looks != y->transmission[i].looks)
			fail_msg("%s: over %d is another", why, i);
}

static const struct {
	const char *why;
	double      at_s, until_s;
	int64_t     start_us;           /* after midnight */
} full[] = {
	{ "full for a look",                     7,   7.05, 600 * SECOND },
	{ "full for some commits",               6.5, 9,    600 * SECOND },
	{ "full from before the first look",     0,   9,    600 * SECOND },
	{ "full until just before the end",      9,   12.3, 600 * SECOND },
	{ "full when the hour turns amid an over", 6.5, 9,  3593 * SECOND },
	{ "full for long after the hour turned", 5,   12,   3594 * SECOND },
};

/* A survey that can't be written for a while loses nothing: it holds what it would
 * have held otherwise. */
static void a_full_disk_loses_nothing(void **state)
{
	for (size_t i = 0; i < sizeof full / sizeof full[0]; i++) {
		struct script script = { TROUBLE_DISK, full[i].at_s, full[i].until_s, 0, 0 };
		struct outing plain = go(*state, &nothing, DAY_US + full[i].start_us, FOR_S);
		struct outing o = go(*state, &script, DAY_US + full[i].start_us, FOR_S);
		if (o.result < 0)
			fail_msg("%s: %s", full[i].why, o.why.text);
		assert_int_equal(plain.seen.n_transmission, 1);
		if (told_unwritten(&o.seen) != (full[i].until_s > full[i].at_s + 1))
			fail_msg("%s: told %d times", full[i].why, told_unwritten(&o.seen));
		same_books(full[i].why, &o, &plain);
		free(plain.fake);
		free(o.fake);
	}
}

/* When it stays full there is nothing to be done, but to say so. */
static void a_disk_that_stays_full(void **state)
{
	struct script script = { TROUBLE_DISK, 9, NEVER_S, 0, 0 };
	struct outing o = go(*state, &script, DAY_US + 600 * SECOND, FOR_S);

	assert_int_equal(o.result, -1);
	check_fault("full at the end", &o.why, FAULT_FATAL, "night.survey");
	/* The last commit before it was full is a second or two old. */
	const char *since = strstr(o.why.text, "since 2026-03-01 00:10:0");
	if (!since || since[24] < '7' || since[24] > '9' || !strstr(since, "is lost"))
		fail_msg("said: %s", o.why.text);
	assert_int_equal(o.seen.n_run, 1);
	assert_int_equal(o.seen.n_transmission, 1);     /* kept before it was full */
	assert_true(o.looks[0] > 0 && o.looks[0] < o.fake->blocks / 2);
	free(o.fake);
}

/* A park is a run of looks without a hole; what was parked and what was swept add up to what was
 * handed over, and no look is in both. */
static void parks_have_books_of_their_own(void **state)
{
	struct outing o = go_with(*state, &nothing, BEGIN_US, FOR_S, &(struct besides){ .park_share = 0.5 });
	const struct fake_source *f = o.fake;
	int64_t parked_us[BANDS] = { 0 }, handed_us[BANDS] = { 0 };
	int parks[BANDS] = { 0 }, want[BANDS] = { 0 }, run = 0;

	assert_int_equal(o.result, 0);
	for (int i = 0; i < o.seen.n_parked; i++) {
		const struct parked_row *p = &o.seen.parked[i];
		parks[p->band] += (int)p->parks;
		parked_us[p->band] += p->parked_us;
	}
	int64_t look_us = f->block[0].end_us - f->block[0].start_us;
	int64_t looks = o.looks[0] + o.looks[1] + (parked_us[0] + parked_us[1]) / look_us;
	for (int i = f->blocks - (int)looks; i < f->blocks; i++) {
		const struct delivery *d = &f->block[i], *before = d - 1;
		int band = d->centre.thirds == f->fragile.thirds;
		bool on = before->centre.thirds == d->centre.thirds &&
			  d->mono_us - before->mono_us == before->end_us - before->start_us;
		handed_us[band] += d->end_us - d->start_us;
		run = on ? run + 1 : 0;
		want[band] += run == 2;
	}
	for (int b = 0; b < BANDS; b++) {
		if (parks[b] != want[b] || parks[b] < 2)
			fail_msg("band %d: %d parks, want %d (seed %" PRIu64 ")", b, parks[b], want[b], SEED);
		if (llabs(parked_us[b] - parks[b] * PARK_US) > 2 * parks[b] * look_us)
			fail_msg("band %d: parked for %" PRId64 " us", b, parked_us[b]);
		if (llabs(parked_us[b] + o.looked_us[b] - handed_us[b]) > looks)
			fail_msg("band %d: parked %" PRId64 " and swept %" PRId64 " us of %" PRId64, b,
				 parked_us[b], o.looked_us[b], handed_us[b]);
	}
	free(o.fake);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(ends_by_the_wall),
		TEST(watches_through_trouble),
		TEST(a_full_disk_loses_nothing),
		TEST(a_disk_that_stays_full),
		TEST(parks_have_books_of_their_own),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
