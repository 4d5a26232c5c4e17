#include "tests/test.h"

#include "tests/noise.h"
#include "tests/plan_world.h"
#include "tools/plan/occupancy.h"
#include "tools/plan/ranges.h"
#include "tools/plan/scan.h"
#include "tools/plan/words.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One band of 400 channels of 12.5 kHz from 450 MHz, 16 s to sweep at 25 a second;
 * emissions are 11 kHz wide, so a search keeps 30.5 kHz off: five channels are lost
 * around a signal on the raster. Four hours were watched. */
enum heard { NOTHING = 0, LITTLE, WELL, ALWAYS };

static const struct {
	const char *why, *service;
	int         room;
	struct { int32_t channel; enum heard how; } at[4];
	const char *want;
} rows[] = {
	{ "wanted, and nothing heard: as much as 15 s sweep", "police", 1, { { 0 } }, "450-454.675" },
	{ "what is left is a second one", "police", 8, { { 0 } }, "450-454.675 454.6875-454.9875" },
	{ "weight 3 is worth it after four hours", "business", 1, { { 0 } }, "450-454.675" },
	{ "weight 2 is not", "personal", 1, { { 0 } }, "" },
	{ "but one that was heard a little makes it so", "personal", 1, { { 50, LITTLE } }, "450-454.675" },
	{ "data services never", "paging", 8, { { 50, LITTLE } }, "" },
	{ "no room", "police", 0, { { 50, LITTLE } }, "" },
	{ "split at what never ends", "police", 8, { { 100, ALWAYS } }, "451.2875-454.9875 450-451.2125" },
	{ "the longer side of what never ends", "police", 1, { { 100, ALWAYS } }, "451.2875-454.9875" },
	{ "over a memory, which costs little", "police", 1, { { 300, WELL } }, "450-454.675" },
	{ "something on one side only", "personal", 1, { { 200, ALWAYS }, { 350, LITTLE } },
	  "452.5375-454.9875" },
	{ "at the band's edge", "police", 1, { { 0, ALWAYS } }, "450.0375-454.7125" },
	{ "as long as it may be, to hold what was heard", "business", 1, { { 390, LITTLE } }, "450.2-454.875" },
};

/* The four hours are ten to two of a Thursday: what services of the day say is known. */
static int32_t by_day(int64_t us)
{
	(void)us;
	return 10 * 3600;
}

static void tell(struct scene *s, size_t row)
{
	for (int i = 0; i < 4; i++) {
		int32_t channel = rows[row].at[i].channel;
		if (rows[row].at[i].how == LITTLE)
			scene_talk(s, 0, channel, 1, 250, KIND_UNKNOWN);
		else if (rows[row].at[i].how == WELL)
			scene_talk(s, 0, channel, 10, 250, KIND_NFM);
		else if (rows[row].at[i].how == ALWAYS)
			scene_add(s, (struct world_over){ 0, channel, 0, 14399, 250, 0, 9000,
				KIND_NFM, 0 });
	}
}

static void ranges_by_rule(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct band band = world_band[WORLD_BUSINESS];
		struct scene s;
		char got[200] = "", broken[200];
		strcpy(band.service, rows[i].service);
		scene_begin_at(&s, &band, 1, by_day, "day");
		s.receiver.search_ranges = rows[i].room + s.receiver.ranges_free;
		tell(&s, i);
		scene_propose(&s);
		size_t n = 0;
		for (int k = 0; k < s.plan->searches; k++) {
			char low[FREQ_TEXT], high[FREQ_TEXT];
			n += (size_t)snprintf(got + n, sizeof got - n, "%s%s-%s", n ? " " : "",
					      words_typed(s.plan->search[k].low, low),
					      words_typed(s.plan->search[k].high, high));
		}
		if (strcmp(got, rows[i].want) != 0)
			fail_msg("%s: %s", rows[i].why, got);
		if (plan_check(s.plan, &s.receiver, s.census, s.suspect, broken))
			fail_msg("%s: %s", rows[i].why, broken);
		scene_end(&s);
	}
}

/* A band that begins and ends between two steps is not left at either end. */
static void inside_the_band(void **state)
{
	struct band band = { .id = "b", .name = "B", .service = "fire", .mode = MODE_NFM,
			     .width_hz = 11000,
			     .raster = { FREQ_HZ(154002500), FREQ_HZ(12500), 20 } };
	struct scene s;

	(void)state;
	for (int32_t off = 0; off < 12500; off += 1250) {
		band.raster.first = FREQ_HZ(154000000 + off);
		scene_begin(&s, &band, 1);
		scene_propose(&s);
		assert_int_equal(s.plan->searches, 1);
		if (s.plan->search[0].low.thirds < band.raster.first.thirds ||
		    s.plan->search[0].high.thirds > raster_last(&band.raster).thirds)
			fail_msg("%d Hz off the step: the range leaves the band", (int)off);
		scene_end(&s);
	}
}

/* 25/3 kHz channels, 5 kHz steps: ranges begin and end on whole 25 kHz. */
static void limits_are_channels(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, &world_band[WORLD_AIR], 1);
	for (int32_t channel = 100; channel < 2000; channel += 250)
		scene_talk(&s, 0, channel, 1, 250, KIND_AM);
	scene_propose(&s);
	assert_true(s.plan->searches >= 4);
	for (int i = 0; i < s.plan->searches; i++) {
		assert_int_equal(s.plan->search[i].low.thirds % FREQ_KHZ(25).thirds, 0);
		assert_int_equal(s.plan->search[i].high.thirds % FREQ_KHZ(25).thirds, 0);
	}
	scene_end(&s);
}

/* The set's own birdies stop a search as stations do. */
static void clear_of_birdies(void **state)
{
	struct scene s;

	(void)state;
	scene_begin(&s, &world_band[WORLD_BUSINESS], 1);
	s.receiver.birdie[s.receiver.birdies++] = FREQ_KHZ(452500);
	scene_propose(&s);
	assert_true(s.plan->searches >= 2);
	for (int i = 0; i < s.plan->searches; i++)
		if (s.plan->search[i].low.thirds <= FREQ_KHZ(452530).thirds &&
		    s.plan->search[i].high.thirds >= FREQ_KHZ(452470).thirds)
			fail_msg("a search sticks at the set's own birdie");
	scene_end(&s);
}

/* A band by day that was looked at by night only is not known, and so more worth a search;
 * what is said then says so. */
static void a_night_tells_nothing_of_the_day(void **state)
{
	struct scene night, day;

	(void)state;
	scene_begin(&night, &world_band[WORLD_BUSINESS], 1);
	scene_propose(&night);
	scene_begin_at(&day, &world_band[WORLD_BUSINESS], 1, by_day, "day");
	scene_propose(&day);
	assert_true(night.plan->search[0].expected > 2 * day.plan->search[0].expected);
	assert_non_null(strstr(night.plan->search[0].reason, "not known by day; about "));
	assert_null(strstr(day.plan->search[0].reason, "not known by day"));
	scene_end(&night);
	scene_end(&day);
}

/* 1 - scipy.stats.nbinom.pmf(0, a + n, h / (h + 3)), h = 1 + watched (SciPy 1.10). */
static const struct { double a; int n; double watched_h, want; } chances[] = {
	{ 0.025, 0, 0, 0.034063671 }, { 0.025, 0, 12, 0.005177534 }, { 0.025, 1, 12, 0.191706747 },
	{ 0.01, 0, 4, 0.004689008 }, { 0.3, 5, 11.5, 0.680209860 },
};

static void chance_of_an_exchange(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof chances / sizeof chances[0]; i++) {
		double got = ranges_chance(chances[i].a, chances[i].n, chances[i].watched_h);
		if (fabs(got - chances[i].want) > 1e-8)
			fail_msg("a %g, %d exchanges in %g h: %.9f, not %.9f", chances[i].a, chances[i].n,
				 chances[i].watched_h, got, chances[i].want);
	}
}

/* ---- the header's sum, written plainly ---- */

/* Of one channel, from the census alone; every hour was watched in full: looks of 20 ms each
 * second meet overs of 5 s. */
static double plain_channel(const struct scene *s, int32_t n, double a, double weight, double *chance)
{
	const struct census *c = s->census;

	*chance = 0;
	for (int i = 0; i < c->channels; i++) {
		const struct channel *ch = &c->channel[i];
		if (ch->channel != n)
			continue;
		for (int k = 0; k < s->plan->lefts; k++)
			if (s->plan->left[k].channel == i && strstr(s->plan->left[k].reason, "heard too little"))
				*chance = 1 - pow(5 / 8.0, a + ch->exchanges);
		return *chance > 0 ? weight * *chance : -SWEEP_PRICE * SWEEP_S * ch->occupancy;
	}
	*chance = 1 - pow(5 / 8.0, a);
	return weight * *chance;
}

/* part: of an emission that fits into a channel. */
static double plain_worth(const struct scene *s, const struct raster *r, double part, struct freq low, struct freq high,
			  double weight, double *expected)
{
	double a = part * (CHANNELS_USED + s->census->channels) / (CHANNELS_MET + part * r->count), worth = -RANGE_PRICE;

	*expected = 0;
	worth -= SWEEP_PRICE * scan_sweep_s(low, high, FREQ_HZ(12500), s->receiver.scan_rate);
	for (int32_t n = 0; n < r->count; n++) {
		double chance;
		struct freq f = raster_centre(r, n);
		if (f.thirds < low.thirds || f.thirds > high.thirds)
			continue;
		worth += plain_channel(s, n, a, weight, &chance);
		*expected += chance;
	}
	return worth;
}

#define SEED  7
#define NIGHTS 12

/* Worth and expectation are what the header says, and no range put anywhere would be worth
 * more than the one chosen. */
static void worth_is_the_headers_sum(void **state)
{
	struct noise r = { SEED };

	(void)state;
	for (int night = 0; night < NIGHTS; night++) {
		struct band band = world_band[WORLD_BUSINESS];
		struct scene s;
		double expected, all;
		strcpy(band.service, night % 2 ? "police" : "personal");
		band.raster.count = 60;
		band.width_hz = 12500;
		scene_begin_at(&s, &band, 1, by_day, "day");
		s.receiver.search_ranges = s.receiver.ranges_free + 1;
		s.receiver.scan_rate = 2;       /* 30 steps a sweep */
		for (int i = 0; i < 12; i++)
			scene_talk(&s, 0, (int32_t)(5 * i + noise_between(&r, 0, 3)),
				   noise_uniform(&r) < 0.5 ? 1 : 12, 250, KIND_NFM);
		scene_propose(&s);
		double weight = night % 2 ? 8 : 2, best = 0;
		for (int32_t low = 0; low < 60; low++)
			for (int32_t high = low + 2; high < 60 && high < low + 30; high++)
				best = fmax(best, plain_worth(&s, &band.raster, 1, raster_centre(&band.raster, low),
							      raster_centre(&band.raster, high), weight, &all));
		assert_int_equal(s.plan->searches, 1);
		const struct search *got = &s.plan->search[0];
		double worth = plain_worth(&s, &band.raster, 1, got->low, got->high, weight, &expected);
		if (!(fabs(worth - got->worth) <= 1e-3) || !(fabs(worth - best) <= 1e-3) ||
		    !(fabs(expected - got->expected) <= 1e-6))
			fail_msg("seed %d, night %d: worth %g, told %g, best %g; expected %g, told %g", SEED, night,
				 worth, got->worth, best, expected, got->expected);
		if (got->expected_low > expected || got->expected_high < expected)
			fail_msg("night %d: %d to %d does not hold %g", night, got->expected_low, got->expected_high,
				 expected);
		scene_end(&s);
	}
}

static void assert_told(const struct search *got, double worth, double expected)
{
	if (!(fabs(worth - got->worth) <= 1e-3) || !(fabs(expected - got->expected) <= 1e-6))
		fail_msg("worth %g, told %g; expected %g, told %g", worth, got->worth, expected, got->expected);
}

/* One that the interests pin has a memory though nothing was heard on it: no search is worth more by it. */
static void what_is_pinned_is_not_searched(void **state)
{
	struct band band = world_band[WORLD_BUSINESS];
	struct scene s;
	double all, chance;

	(void)state;
	strcpy(band.service, "police");
	band.raster.count = 60;
	band.width_hz = 12500;
	scene_begin_at(&s, &band, 1, by_day, "day");
	s.receiver.search_ranges = s.receiver.ranges_free + 1;
	s.interests.pinned = malloc(sizeof *s.interests.pinned);
	assert_non_null(s.interests.pinned);
	s.interests.pinned[s.interests.n_pinned++] = raster_centre(&band.raster, 30);
	scene_propose(&s);
	assert_int_equal(s.plan->memories, 1);
	assert_int_equal(s.plan->searches, 1);
	const struct search *got = &s.plan->search[0];
	double worth = plain_worth(&s, &band.raster, 1, got->low, got->high, 8, &all);
	double one = plain_channel(&s, 30, CHANNELS_USED / (CHANNELS_MET + band.raster.count), 8, &chance);
	assert_told(got, worth - one, all - chance);
	scene_end(&s);
}

/* Channels half as wide as an emission: each is half a station's, so fewer are to be expected. */
static void a_finer_raster_holds_fewer(void **state)
{
	struct band band = world_band[WORLD_BUSINESS];
	struct scene s;
	double expected;

	(void)state;
	strcpy(band.service, "police");
	band.raster.count = 60;
	band.width_hz = 25000;
	scene_begin_at(&s, &band, 1, by_day, "day");
	s.receiver.search_ranges = s.receiver.ranges_free + 1;
	scene_propose(&s);
	assert_int_equal(s.plan->searches, 1);
	const struct search *got = &s.plan->search[0];
	double worth = plain_worth(&s, &band.raster, 0.5, got->low, got->high, 8, &expected);
	assert_told(got, worth, expected);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(ranges_by_rule),
		cmocka_unit_test(inside_the_band),
		cmocka_unit_test(limits_are_channels),
		cmocka_unit_test(clear_of_birdies),
		cmocka_unit_test(a_night_tells_nothing_of_the_day),
		cmocka_unit_test(chance_of_an_exchange),
		cmocka_unit_test(worth_is_the_headers_sum),
		cmocka_unit_test(what_is_pinned_is_not_searched),
		cmocka_unit_test(a_finer_raster_holds_fewer),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
