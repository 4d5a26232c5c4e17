#include "tests/test.h"

#include "tests/plan_world.h"
#include "tools/plan/judge.h"

#include <stdio.h>
#include <string.h>

/* Two channels a split apart: the upper one talks in exchanges of three overs of
 * 5 s, 14 s from one to the next; the table tells when the lower one does. */
enum { LOWER = 0, UPPER };

static const struct {
	const char  *why;
	int32_t      split_khz;
	double       shift_s;           /* lower's overs begin so long after the upper's */
	double       length_s;
	int          every;             /* every so-manieth over has one                 */
	int          alone;             /* overs of the lower while the upper is silent  */
	int32_t      level_ddb;         /* of the lower; the upper has 300               */
	enum pairing lower, upper;
	const char  *lower_says, *upper_says;
} rows[] = {
	{ "keyed together, 5 MHz: input", 5000, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "",
	  "input 156.050 heard too" },
	{ "keyed together, 0.6 MHz", 600, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "",
	  "input 156.050 heard too" },
	{ "1.6 MHz", 1600, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input 156.050 heard too" },
	{ "7.6 MHz", 7600, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input 156.050 heard too" },
	{ "9.4 MHz", 9400, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input 156.050 heard too" },
	{ "45 MHz", 45000, 0, 5, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "", "input 156.050 heard too" },
	{ "4 MHz is no split", 4000, 0, 5, 2, 0, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "single looks in one sweep are together", 5000, 0, 1, 2, 0, 150, PAIR_INPUT, PAIR_OUTPUT, "",
	  "input 156.050 heard too" },
	{ "stronger than its output: no input", 5000, 0, 5, 2, 0, 350, PAIR_NONE, PAIR_NONE, "", "" },
	{ "on without the output too often", 5000, 0, 5, 2, 20, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "taking turns on marine duplex", 4600, 7, 4, 1, 0, 150, PAIR_SIDE, PAIR_SIDE,
	  "ship side of 160.650", "shore side of 156.050" },
	{ "ships that are louder than the shore", 4600, 7, 4, 1, 0, 450, PAIR_SIDE, PAIR_SIDE,
	  "ship side of 160.650", "shore side of 156.050" },
	{ "taking turns elsewhere", 5000, 7, 4, 1, 0, 150, PAIR_SIDE, PAIR_SIDE,
	  "one side of 161.050", "one side of 156.050" },
	{ "talks at its own times", 4600, 140, 4, 1, 0, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "mostly at its own times", 4600, 7, 4, 4, 40, 150, PAIR_NONE, PAIR_NONE, "", "" },
	{ "two overs prove nothing", 4600, 7, 4, 30, 0, 150, PAIR_NONE, PAIR_NONE, "", "" },
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

static void pairs_by_timing(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct band two[2] = { world_band[WORLD_BUSINESS], world_band[WORLD_BUSINESS] };
		struct scene s;
		char says[2][48], broken[200];
		strcpy(two[UPPER].id, "upper");
		two[LOWER].raster = (struct raster){ FREQ_KHZ(156050), FREQ_KHZ(25), 1 };
		two[UPPER].raster = (struct raster){ FREQ_KHZ(156050 + rows[i].split_khz),
						     FREQ_KHZ(25), 1 };
		scene_begin(&s, two, 2);
		tell(&s, i);
		scene_propose(&s);
		assert_int_equal(s.census->channels, 2);
		struct pair lower = judge_pair(s.census, LOWER), upper = judge_pair(s.census, UPPER);
		judge_pair_words(s.census, &lower, says[LOWER], sizeof says[LOWER]);
		judge_pair_words(s.census, &upper, says[UPPER], sizeof says[UPPER]);
		if (lower.is != rows[i].lower || upper.is != rows[i].upper ||
		    strcmp(says[LOWER], rows[i].lower_says) != 0 ||
		    strcmp(says[UPPER], rows[i].upper_says) != 0)
			fail_msg("%s: %d \"%s\" and %d \"%s\"", rows[i].why, lower.is, says[LOWER],
				 upper.is, says[UPPER]);
		if (plan_check(s.plan, &s.receiver, s.census, s.suspect, broken))
			fail_msg("%s: %s", rows[i].why, broken);
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
	two[LOWER].raster = (struct raster){ FREQ_KHZ(451000), FREQ_KHZ(25), 1 };
	two[UPPER].raster = (struct raster){ FREQ_KHZ(456000), FREQ_KHZ(25), 1 };
	scene_begin(&s, two, 2);
	tell(&s, 0);
	scene_propose(&s);
	assert_string_equal(scene_left(&s, LOWER, 0),
			    "input of 456.000, where the same voices are heard better");
	assert_string_equal(scene_memory(&s, UPPER, 0)->pair, "input 451.000 heard too");
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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(pairs_by_timing),
		cmocka_unit_test(inputs_are_not_scanned),
		cmocka_unit_test(both_sides_are_scanned),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
