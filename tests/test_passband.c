#include "tests/test.h"

#include <math.h>

#include "tests/painted.h"

/* Cells of two bins from bin 40 on, 200 of them. */
#define FIRST 40
#define CELL(c) (FIRST + 2 * (c))
#define PARTS 3

/* Cells first .. last, in slices from .. to, so many times the noise more. */
struct part {
	int    first, last, from, to;
	double ratio;
};

#define ALWAYS(first, last, ratio) { first, last, 0, PAINTED_SLICES - 1, ratio }

/* The same in every look that is learnt from: what the floor then is at a cell, in the look's
 * own noise. */
static const struct {
	const char *why;
	bool        one_place;
	struct part part[PARTS];
	int         at;
	double      floor;
} shapes[] = {
	{ "even noise", false, { { 0 } }, 100, 1 },
	{ "at many places what is always there is the passband", false, { ALWAYS(100, 101, 9) }, 100, 10 },
	{ "at one it is a line", true, { ALWAYS(100, 101, 9) }, 100, 1 },
	{ "a wide one", true, { ALWAYS(80, 115, 9) }, 98, 1 },
	{ "wider than two quarters of the window", true, { ALWAYS(50, 160, 9) }, 98, 10 },
	{ "1.8 times the noise is a line", true, { ALWAYS(100, 101, 0.8) }, 100, 1 },
	{ "1.6 times is the passband", true, { ALWAYS(100, 101, 0.6) }, 100, 1.6 },
	{ "its skirts are of it", true, { ALWAYS(98, 103, 0.5), ALWAYS(100, 101, 9) }, 98, 1 },
	{ "what lies before them is left alone", true, { ALWAYS(0, 94, 0.5), ALWAYS(100, 101, 9) }, 94, 1.5 },
	{ "and what lies behind", true, { ALWAYS(107, 199, 0.5), ALWAYS(100, 101, 9) }, 107, 1.5 },
	{ "over them it is bridged evenly", true, { ALWAYS(0, 94, 0.5), ALWAYS(100, 101, 9) }, 98, 1 },
	{ "near the upper edge", true, { ALWAYS(190, 191, 9) }, 190, 1 },
	{ "near the lower edge", true, { ALWAYS(8, 9, 9) }, 8, 1 },
	{ "at the upper edge it stays", true, { ALWAYS(197, 199, 9) }, 198, 10 },
	{ "at the lower edge it stays", true, { ALWAYS(0, 2, 9) }, 1, 10 },
	{ "a step stays, below it", true, { ALWAYS(100, 199, 0.9) }, 95, 1 },
	{ "and above it", true, { ALWAYS(100, 199, 0.9) }, 105, 1.9 },
	{ "right at it", true, { ALWAYS(100, 199, 0.9) }, 99, 1 },
	{ "and right over it", true, { ALWAYS(100, 199, 0.9) }, 100, 1.9 },
	{ "bursts in eight slices of twelve", true, { { 40, 160, 2, 9, 9 } }, 100, 1 },
	{ "bursts in the first slices", true, { { 40, 160, 0, 7, 9 } }, 100, 1 },
	{ "ripple is smoothed", false, { ALWAYS(100, 100, 0.07) }, 100, 1.014 },
	{ "over two cells to either side", false, { ALWAYS(98, 98, 0.07) }, 100, 1.014 },
	{ "and no farther", false, { ALWAYS(97, 97, 0.07) }, 100, 1 },
	{ "what differs by more is not", false, { ALWAYS(100, 100, 0.1) }, 100, 1.1 },
};

static void paint_parts(struct painted *p, const struct part *part)
{
	painted_clear(p);
	for (int i = 0; i < PARTS && part[i].ratio > 0; i++)
		paint(p, CELL(part[i].first), CELL(part[i].last) + 1, part[i].from, part[i].to, part[i].ratio);
	look_leave_out(&p->look);
}

static struct floor *floor_for(const struct painted *p, bool one_place)
{
	struct floor *f = floor_create(&p->look, p->window, PAINTED_BINS / 2, one_place);
	assert_non_null(f);
	return f;
}

/* The floor at a bin of even noise, over that of a floor that learnt nothing: even noise is read
 * a hair too high, for it does not scatter. */
static double hair(struct painted *p)
{
	struct floor *f = floor_for(p, false);
	painted_clear(p);
	look_leave_out(&p->look);
	floor_judge(f, &p->look);
	double noise = floor_bin(f, CELL(100)) / PAINTED_NOISE;
	floor_destroy(f);
	assert_true(noise > 1 && noise < 1.02);
	return noise;
}

static void what_is_the_passband(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	double one = hair(&p);
	for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
		struct floor *f = floor_for(&p, shapes[i].one_place);
		paint_parts(&p, shapes[i].part);
		for (int k = 0; k < 3; k++)
			floor_learn(f, &p.look);
		floor_settle(f);
		floor_judge(f, &p.look);
		double got = floor_bin(f, CELL(shapes[i].at)) / PAINTED_NOISE / one;
		if (!(fabs(got / shapes[i].floor - 1) < 0.01))
			fail_msg("%s: %.3f, want %.3f", shapes[i].why, got, shapes[i].floor);
		floor_destroy(f);
	}
	painted_close(&p);
}

/* One look's own noise, over an even passband. */
static const struct {
	const char *why;
	struct part part[PARTS];
	double      quantum;            /* of a bin, in its noise */
	double      level;
} levels[] = {
	{ "twice the noise", { ALWAYS(-20, 219, 1) }, 0, 2 },
	{ "most is busy", { ALWAYS(20, 199, 1000) }, 0, 1 },
	{ "fewer than one in twenty hold noise: they are taken for chance", { ALWAYS(5, 199, 9) }, 0, 9.775 },
	{ "no less than the converter's steps", { { 0 } }, 3, 3 },
	{ "steps less than the noise", { { 0 } }, 0.9, 1 },
};

static void how_strong_the_noise_is(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	struct floor *f = floor_for(&p, false);
	double one = hair(&p);
	for (size_t i = 0; i < sizeof levels / sizeof levels[0]; i++) {
		paint_parts(&p, levels[i].part);
		p.look.quantum = levels[i].quantum * PAINTED_NOISE * PAINTED_BINS;
		floor_judge(f, &p.look);
		double got = floor_bin(f, CELL(10)) / PAINTED_NOISE;
		double want = levels[i].level * (levels[i].quantum > 1 ? 1 : one);
		if (!(fabs(got / want - 1) < 0.005) ||
		    !(fabs(floor_level(f) / got / PAINTED_BINS / PAINTED_NOISE - 1) < 1e-3) ||
		    !(fabs(floor_power(f, 100, 110.5) / got / PAINTED_NOISE - 10.5) < 1e-3))
			fail_msg("%s: %.3f, want %.3f", levels[i].why, got, want);
	}
	/* Beside every strong one 2.5 kHz are left out: half of its noise more would else be in. */
	painted_clear(&p);
	for (int c = 0; c < 200; c += 10) {
		paint(&p, CELL(c), CELL(c) + 1, 0, PAINTED_SLICES - 1, 1000);
		paint(&p, CELL(c + 1), CELL(c + 1) + 1, 0, PAINTED_SLICES - 1, 0.2);
		if (c > 0)
			paint(&p, CELL(c - 1), CELL(c - 1) + 1, 0, PAINTED_SLICES - 1, 0.2);
	}
	painted_done(&p);
	look_leave_out(&p.look);
	floor_judge(f, &p.look);
	assert_true(fabs(floor_bin(f, CELL(50)) / PAINTED_NOISE / one - 1) < 0.001);
	/* Strong ones so close that only the last ten of 200 have none beside them, and these half more noise: they are too
	 * few to be asked alone, and beside the 127 others they are signals. */
	painted_clear(&p);
	for (int c = 1; c < 190; c += 3)
		paint(&p, CELL(c), CELL(c) + 1, 0, PAINTED_SLICES - 1, 1000);
	paint(&p, CELL(190), CELL(199) + 1, 0, PAINTED_SLICES - 1, 0.5);
	painted_done(&p);
	look_leave_out(&p.look);
	floor_judge(f, &p.look);
	assert_true(fabs(floor_bin(f, CELL(50)) / PAINTED_NOISE / one - 1) < 0.001);
	floor_destroy(f);
	painted_close(&p);
}

/* A look that was none takes nothing with it and leaves nothing. */
static void a_look_forgotten_was_never_learnt(void **state)
{
	struct painted p;
	(void)state;

	painted_open(&p);
	double one = hair(&p);
	struct floor *f = floor_for(&p, false);
	floor_forget(f);                        /* there is none yet */
	painted_clear(&p);
	look_leave_out(&p.look);
	for (int k = 0; k < 200; k++) {         /* past the 128 that are kept */
		paint_parts(&p, (struct part[PARTS]){ ALWAYS(50, 150, 9) });
		floor_learn(f, &p.look);
		floor_forget(f);
		painted_clear(&p);
		look_leave_out(&p.look);
		floor_learn(f, &p.look);
	}
	floor_settle(f);
	floor_judge(f, &p.look);
	assert_true(fabs(floor_bin(f, CELL(100)) / PAINTED_NOISE / one - 1) < 0.001);
	/* The passband changes: within 256 looks it is followed. */
	paint_parts(&p, (struct part[PARTS]){ ALWAYS(50, 150, 9) });
	for (int k = 0; k < 256; k++)
		floor_learn(f, &p.look);
	floor_judge(f, &p.look);
	assert_true(fabs(floor_bin(f, CELL(100)) / PAINTED_NOISE / one - 10) < 0.1);
	floor_destroy(f);
	floor_destroy(NULL);
	painted_close(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_is_the_passband),
		cmocka_unit_test(how_strong_the_noise_is),
		cmocka_unit_test(a_look_forgotten_was_never_learnt),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
