#include "tests/test.h"

#include "tests/noise.h"
#include "tests/plan_world.h"
#include "tools/plan/coincide.h"
#include "tools/plan/judge.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Two channels a split apart: the upper one talks in exchanges of three overs of
 * 5 s, 14 s from one to the next; the table tells when the lower one does. */
enum { LOWER = 0, UPPER };

static const struct {
	const char  *why;
	int32_t      low_khz, split_khz;
	double       shift_s;           /* lower's overs begin so long after the upper's */
	double       length_s;
	int          every;             /* every so-manieth over has one                 */
	int          alone;             /* overs of the lower while the upper is silent  */
	int32_t      level_ddb;         /* of the lower; the upper has 300               */
	enum pairing lower, upper;
	const char  *lower_says, *upper_says;
} rows[] = {
	{ "keyed together, 5 MHz: input", 442000, 5000, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "",
	  "input %s heard too" },
	{ "keyed together, 0.6 MHz", 146000, 600, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "",
	  "input %s heard too" },
	{ "1.6 MHz", 432000, 1600, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input %s heard too" },
	{ "7.6 MHz", 430500, 7600, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input %s heard too" },
	{ "9.4 MHz", 430500, 9400, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input %s heard too" },
	{ "45 MHz", 810000, 45000, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input %s heard too" },
	{ "4 MHz is no split", 442000, 4000, 0, 5, 2, 0, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "single looks in one sweep are together", 442000, 5000, 0, 1, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "",
	  "input %s heard too" },
	{ "stronger than its output: no input", 442000, 5000, 0, 5, 2, 0, 350, PAIR_NONE, PAIR_NONE, "", "" },
	{ "on without the output too often", 442000, 5000, 0, 5, 2, 20, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "taking turns on marine duplex", 156050, 4600, 7, 4, 1, 0, 150, PAIR_SIDE, PAIR_SIDE,
	  "ship side of %s", "shore side of %s" },
	{ "ships that are louder than the shore", 156050, 4600, 7, 4, 1, 0, 450, PAIR_SIDE, PAIR_SIDE,
	  "ship side of %s", "shore side of %s" },
	{ "taking turns elsewhere", 442000, 5000, 7, 4, 1, 0, 150, PAIR_SIDE, PAIR_SIDE,
	  "one side of %s", "one side of %s" },
	{ "talks at its own times", 156050, 4600, 140, 4, 1, 0, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "mostly at its own times", 156050, 4600, 7, 4, 4, 40, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "two overs prove nothing", 156050, 4600, 7, 4, 30, 0, 150, PAIR_NONE, PAIR_NONE, "", "" },
};

/* The same where the band plan tells splits of its own: of the lower band, of the upper one. */
static const struct {
	const char   *why;
	int32_t       low_khz, apart_khz;
	int64_t       lower_khz, upper_khz;
	enum pairing  lower;
	const char   *whose;            /* split */
} planned[] = {
	{ "4 MHz, as the plan has it", 442000, 4000, 0, -4000, PAIR_INPUT, "Upper" },
	{ "the lower is no input when inputs lie above", 442000, 4000, 4000, 0, PAIR_NONE, NULL },
	{ "either way", 442000, 4000, 4000, -4000, PAIR_INPUT, "Lower" },
	{ "the plan goes before what is usual: inputs above", 442000, 5000, 5000, 0, PAIR_NONE, NULL },
	{ "and below, of the same distance", 442000, 5000, 0, -5000, PAIR_INPUT, "Upper" },
	{ "what the plan tells nothing of is as usual", 442000, 5000, 0, -4000, PAIR_INPUT, "amateur 70 cm" },
	{ "of another distance, and none is usual", 442000, 4000, 0, -4025, PAIR_NONE, NULL },
};

#define EXCHANGES 20

static void tell(struct scene *s, size_t row)
{
	for (int e = 0; e < EXCHANGES; e++)
		for (int k = 0; k < 3; k++) {
			double at_s = 100 + 600 * e + 14 * k;
			scene_add(s, (struct world_over){ UPPER, 0, at_s,
				rows[row].length_s == 1 ? 1 : 5, 300, 0, 9000, KIND_NFM, 0 });
			if ((3 * e + k) % rows[row].every == 0)
				scene_add(s, (struct world_over){ LOWER, 0,
					at_s + rows[row].shift_s, rows[row].length_s,
					rows[row].level_ddb, 0, 9000, KIND_NFM, 0 });
		}
	for (int a = 0; a < rows[row].alone; a++)
		scene_add(s, (struct world_over){ LOWER, 0,
			350 + 600 * (a % EXCHANGES) + 20 * (a / EXCHANGES), 5,
			rows[row].level_ddb, 0, 9000, KIND_NFM, 0 });
}

/* The words, with the other's frequency in them. */
static bool said(const char *got, const char *want, const struct channel *other)
{
	char mhz[FREQ_TEXT], whole[64];
	const char *gap = strstr(want, "%s");

	if (gap)
		snprintf(whole, sizeof whole, "%.*s%s%s", (int)(gap - want), want,
			 freq_format_mhz(mhz, other->centre), gap + 2);
	return strcmp(got, gap ? whole : want) == 0;
}

static void pairs_by_timing(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct band two[2] = { world_band[WORLD_BUSINESS], world_band[WORLD_BUSINESS] };
		struct scene s;
		char says[2][48], broken[200];
		strcpy(two[UPPER].id, "upper");
		two[LOWER].raster = (struct raster){ FREQ_KHZ(rows[i].low_khz), FREQ_KHZ(25), 1 };
		two[UPPER].raster = (struct raster){ FREQ_KHZ(rows[i].low_khz + rows[i].split_khz),
						     FREQ_KHZ(25), 1 };
		scene_begin(&s, two, 2);
		tell(&s, i);
		scene_propose(&s);
		assert_int_equal(s.census->channels, 2);
		struct pair lower = judge_pair(s.census, LOWER), upper = judge_pair(s.census, UPPER);
		judge_pair_words(s.census, &lower, says[LOWER], sizeof says[LOWER]);
		judge_pair_words(s.census, &upper, says[UPPER], sizeof says[UPPER]);
		if (lower.is != rows[i].lower || upper.is != rows[i].upper ||
		    !said(says[LOWER], rows[i].lower_says, &s.census->channel[UPPER]) ||
		    !said(says[UPPER], rows[i].upper_says, &s.census->channel[LOWER]))
			fail_msg("%s: %d \"%s\" and %d \"%s\"", rows[i].why, lower.is, says[LOWER],
				 upper.is, says[UPPER]);
		if (plan_check(s.plan, &s.receiver, s.census, s.suspect, broken))
			fail_msg("%s: %s", rows[i].why, broken);
		scene_end(&s);
	}
}

static void pairs_by_the_band_plan(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof planned / sizeof planned[0]; i++) {
		struct band two[2] = { world_band[WORLD_BUSINESS], world_band[WORLD_BUSINESS] };
		struct scene s;
		strcpy(two[UPPER].id, "upper");
		strcpy(two[UPPER].name, "Upper");
		strcpy(two[LOWER].name, "Lower");
		two[LOWER].raster = (struct raster){ FREQ_KHZ(planned[i].low_khz), FREQ_KHZ(25), 1 };
		two[UPPER].raster = (struct raster){ FREQ_KHZ(planned[i].low_khz + planned[i].apart_khz),
						     FREQ_KHZ(25), 1 };
		two[LOWER].split[0] = FREQ_KHZ(100);    /* one of several */
		two[LOWER].split[1] = FREQ_KHZ(planned[i].lower_khz);
		two[UPPER].split[0] = FREQ_KHZ(planned[i].upper_khz);
		scene_begin(&s, two, 2);
		tell(&s, 0);
		scene_propose(&s);
		struct pair lower = judge_pair(s.census, LOWER);
		if (lower.is != planned[i].lower ||
		    (planned[i].whose && strcmp(lower.split, planned[i].whose) != 0))
			fail_msg("%s: %d, %s", planned[i].why, lower.is, lower.is ? lower.split : "no split");
		scene_end(&s);
	}
}

/* What the plan makes of them: inputs are not scanned, sides are, each named. */
static void inputs_are_not_scanned(void **state)
{
	struct band two[2] = { world_band[WORLD_BUSINESS], world_band[WORLD_BUSINESS] };
	struct scene s;

	(void)state;
	strcpy(two[UPPER].id, "upper");
	two[LOWER].raster = (struct raster){ FREQ_KHZ(442000), FREQ_KHZ(25), 1 };
	two[UPPER].raster = (struct raster){ FREQ_KHZ(447000), FREQ_KHZ(25), 1 };
	scene_begin(&s, two, 2);
	tell(&s, 0);
	scene_propose(&s);
	assert_string_equal(scene_left(&s, LOWER, 0),
			    "input of 447.000, where the same voices are heard better");
	assert_string_equal(scene_memory(&s, UPPER, 0)->pair, "input 442.000 heard too");
	scene_end(&s);

	/* A wanted service's input is kept, and locked. */
	strcpy(two[LOWER].service, "police");
	strcpy(two[UPPER].service, "police");
	scene_begin(&s, two, 2);
	tell(&s, 0);
	scene_propose(&s);
	assert_true(scene_memory(&s, LOWER, 0) && scene_memory(&s, LOWER, 0)->locked);
	assert_false(scene_memory(&s, UPPER, 0)->locked);
	scene_end(&s);
}

static void both_sides_are_scanned(void **state)
{
	struct band two[2] = { world_band[WORLD_BUSINESS], world_band[WORLD_BUSINESS] };
	struct scene s;
	char broken[200];

	(void)state;
	strcpy(two[UPPER].id, "upper");
	two[LOWER].raster = (struct raster){ FREQ_KHZ(157300), FREQ_KHZ(25), 1 };
	two[UPPER].raster = (struct raster){ FREQ_KHZ(161900), FREQ_KHZ(25), 1 };
	scene_begin(&s, two, 2);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		if (rows[i].split_khz == 4600 && rows[i].lower == PAIR_SIDE) {
			tell(&s, i);
			break;
		}
	scene_propose(&s);
	for (int side = LOWER; side <= UPPER; side++) {
		const struct memory *m = scene_memory(&s, side, 0);
		assert_true(m && !m->locked);
		assert_string_equal(m->pair, side ? "shore side of 157.300" : "ship side of 161.900");
	}
	/* plan_check misses the names when they are gone. */
	assert_null(plan_check(s.plan, &s.receiver, s.census, s.suspect, broken));
	s.plan->memory[0].pair[0] = '\0';
	assert_non_null(plan_check(s.plan, &s.receiver, s.census, s.suspect, broken));
	scene_end(&s);
}

/* ---- against chance ---- */

#define SEED     UINT64_C(20261126)
#define SWEEP_S  2.4
#define NIGHT_S  (12 * 3600.0)
#define SIDES    12             /* pairs that are tried in each world */
#define ROOM     60000
#define TEST_US  INT64_C(1767225600000000)

struct world {
	struct census  census;
	struct band    band;
	struct channel channel[2 * SIDES];
	struct over    over[ROOM];
};

static double exponential(struct noise *r, double mean)
{
	return -mean * log(1 - noise_uniform(r));
}

/* An over as sweeps have it, whose looks at this channel come phase_s after the others. */
static void sweep_over(struct world *w, struct channel *ch, double from_s, double to_s, double phase_s)
{
	double first = ceil((from_s - phase_s) / SWEEP_S) * SWEEP_S + phase_s;
	double last = floor((to_s - phase_s) / SWEEP_S) * SWEEP_S + phase_s;
	struct over *before = ch->overs ? &w->over[w->census.overs - 1] : NULL;

	if (first > last)
		return;
	int64_t first_us = TEST_US + llround(1e6 * first), last_us = TEST_US + llround(1e6 * last);
	int64_t sweep_us = llround(1e6 * SWEEP_S);
	ch->busy_us += last_us - first_us + 20000;
	if (before && first_us - before->last_us < sweep_us + sweep_us / 2) {
		before->last_us = last_us;      /* no idle look between them */
		return;
	}
	assert_in_range(w->census.overs, 0, ROOM - 1);
	w->over[w->census.overs++] = (struct over){ .first_us = first_us, .last_us = last_us,
						    .before_us = sweep_us, .after_us = sweep_us };
	ch->overs++;
}

/* Everybody is busy in the same evening hours, in exchanges, and for reasons of his own. */
static void speak(struct world *w, int i, struct noise *r)
{
	struct channel *ch = &w->channel[i];
	double phase_s = SWEEP_S * noise_uniform(r), every_s = 40 + 1500 * pow(noise_uniform(r), 2);
	double over_s = 2 + 6 * noise_uniform(r), at_s = 0;

	*ch = (struct channel){ .centre = FREQ_KHZ(442000 + 5000 * (i & 1) + 25 * (i / 2)),
				.over = w->census.overs, .level_db = i & 1 ? 30 : 12,
				.spread_db = i & 1 ? 1 : 7 };
	while ((at_s += exponential(r, every_s)) < NIGHT_S) {
		if (at_s > NIGHT_S / 3 && noise_uniform(r) < 0.8)
			continue;
		do {
			double end_s = at_s + exponential(r, over_s);
			sweep_over(w, ch, at_s, end_s, phase_s);
			at_s = end_s + 0.5 + exponential(r, 1.5);
		} while (noise_uniform(r) < 0.75);
	}
	ch->occupancy = 1e-6 * (double)ch->busy_us / NIGHT_S;
}

/* Pairs that are none: the promise is one in so many surveys, and each single test must not
 * promise more than it keeps either. */
static void no_pair_by_chance(void **state)
{
	const char *more = getenv("BANDCENSUS_TABLES");
	int worlds = more ? atoi(more) : 40, wrong = 0, tests = 0, below[3] = { 0 };
	static const double level[3] = { 0.05, 0.01, 0.001 };
	struct noise r = { SEED };
	struct world *w = calloc(1, sizeof *w);

	(void)state;
	assert_non_null(w);
	for (int k = 0; k < worlds; k++) {
		bool any = false;
		w->census = (struct census){ .channel = w->channel, .channels = 2 * SIDES,
					     .band = &w->band, .bands = 1, .over = w->over };
		for (int i = 0; i < 2 * SIDES; i++)
			speak(w, i, &r);
		pairs_find(&w->census);
		for (int i = 0; i < 2 * SIDES; i++)
			any |= w->channel[i].pair.is != PAIR_NONE;
		wrong += any;
		for (int i = 0; i < 2 * SIDES; i += 2, tests++) {
			struct coincidence c;
			coincide((struct overs){ &w->over[w->channel[i].over], w->channel[i].overs },
				 (struct overs){ &w->over[w->channel[i + 1].over], w->channel[i + 1].overs },
				 KEEP_TOGETHER, &c);
			for (int l = 0; l < 3; l++)
				below[l] += c.chance <= level[l];
		}
	}
	print_message("surveys of %d unrelated pairs: %d, with a pair found: %d\n", SIDES, worlds, wrong);
	for (int l = 0; l < 3; l++) {
		double mean = level[l] * tests;
		print_message("chance of %g or less: %d of %d, %.1f promised\n", level[l], below[l], tests, mean);
		if (below[l] > mean + 4 * sqrt(mean) + 1)
			fail_msg("seed %llu: %d tests of %d say %g", (unsigned long long)SEED, below[l], tests,
				 level[l]);
	}
	/* Four deviations of what is promised. */
	double mean = PAIRS_FALSE * worlds;
	if (wrong > mean + 4 * sqrt(mean))
		fail_msg("seed %llu: %d surveys of %d have a pair", (unsigned long long)SEED, wrong, worlds);
	free(w);
}

/* What the test is for: an input heard now and then among an output's busy talk. */
static void found_with_ten_common_overs(void **state)
{
	struct noise r = { SEED + 1 };
	struct world *w = calloc(1, sizeof *w);
	int found = 0, judged = 0;
	char text[PAIR_TEXT];

	(void)state;
	assert_non_null(w);
	for (int k = 0; k < 60; k++) {
		w->census = (struct census){ .channel = w->channel, .channels = 2 * SIDES,
					     .band = &w->band, .bands = 1, .over = w->over };
		for (int i = 0; i + 2 < 2 * SIDES; i++)
			speak(w, i, &r);
		/* The last pair: output of exchanges with a hang, every fourth talker nearby. */
		double every_s = 120 + 1000 * noise_uniform(&r);
		struct on { double from_s, to_s; } near[4000];
		int n = 0;
		struct channel *in = &w->channel[2 * SIDES - 2], *out = in + 1;
		*out = (struct channel){ .centre = FREQ_KHZ(448000), .over = w->census.overs,
					 .level_db = 30, .spread_db = 1 };
		for (double at_s = exponential(&r, every_s); at_s < NIGHT_S; at_s += exponential(&r, every_s))
			do {
				double end_s = at_s + exponential(&r, 4);
				sweep_over(w, out, at_s, end_s + 1.5, 1.9);
				if (n < 4000 && noise_uniform(&r) < 0.25)
					near[n++] = (struct on){ at_s, end_s };
				at_s = end_s + 0.5 + exponential(&r, 1.5);
			} while (noise_uniform(&r) < 0.75);
		*in = (struct channel){ .centre = FREQ_KHZ(443000), .over = w->census.overs,
					.level_db = 12, .spread_db = 7 };
		for (int i = 0; i < n; i++)
			sweep_over(w, in, near[i].from_s, near[i].to_s, 0.3);
		pairs_find(&w->census);
		if (in->overs < 10)
			continue;
		judged++;
		found += in->pair.is == PAIR_INPUT && in->pair.other == 2 * SIDES - 1 &&
			 out->pair.is == PAIR_OUTPUT;
		if (judged == 1)
			print_message("%s\n", pair_evidence(&w->census, 2 * SIDES - 2, text, sizeof text));
	}
	print_message("pairs with ten overs of the input or more: %d, found: %d\n", judged, found);
	assert_in_range(judged, 20, 60);
	if (found < judged)
		fail_msg("seed %llu: %d of %d found", (unsigned long long)SEED + 1, found, judged);
	free(w);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(pairs_by_timing),
		cmocka_unit_test(pairs_by_the_band_plan),
		cmocka_unit_test(inputs_are_not_scanned),
		cmocka_unit_test(both_sides_are_scanned),
		cmocka_unit_test(no_pair_by_chance),
		cmocka_unit_test(found_with_ten_common_overs),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
